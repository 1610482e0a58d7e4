import type { DateOrder } from './import-options.js';

/** Patterns of the parts of a written time; anything between them is read by the functions below. */
const clockPattern = /^(\d{1,3}):(\d{2})(?::(\d{2}))?(?:[.,:](\d{1,9}))?\s*([AaPp]\.?[Mm]\.?)?\s*(Z|[+-]\d{2}:?\d{2})?$/;
const datePattern = /^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})$|^(\d{1,2})([-/.])(\d{1,2})\6(\d{4}|\d{2})$|^(\d{1,2})[-/. ]([A-Za-z]{3,9})[-/. ,]+(\d{4}|\d{2})$/;
const bothPattern = /^(\S+(?: [A-Za-z]{3,9} \d{2,4})?)(?:T|\s+|,\s*)(\d{1,2}:\d{2}.*)$/;

const months = ['jan', 'feb', 'mar', 'apr', 'may', 'jun', 'jul', 'aug', 'sep', 'oct', 'nov', 'dec'];
const year = (text: string) => (text.length === 2 ? 2000 : 0) + Number(text);

/** What two numbers parted by one colon mean. */
export type ShortClock = 'hh:mm' | 'mm:ss';

export const isClock = (text: string): boolean => clockPattern.test(text);
export const isDate = (text: string): boolean => datePattern.test(text);

/** Date and time of day in one text, parted; `undefined` where it is something else. */
export function splitDateTime(text: string): { readonly date: string; readonly clock: string } | undefined {
  const match = bothPattern.exec(text);
  const date = (match?.[1] ?? '').replace(/,$/, '');
  const clock = match?.[2] ?? '';
  return isDate(date) && isClock(clock) ? { date, clock } : undefined;
}

/** `mm:ss` where a fraction or a first number above 23 shows it, `undefined` where `12:30` may be either; `null` with two colons. */
export function shortClockOf(text: string): ShortClock | null | undefined {
  const [, first = '', , seconds, fraction] = clockPattern.exec(text) ?? [];
  if (seconds !== undefined) return null;
  return fraction !== undefined || Number(first) > 23 ? 'mm:ss' : undefined;
}

/** Seconds of a time of day or of an elapsed `hh:mm:ss`, less its zone offset; `undefined` where the text is none. */
export function secondsOfClock(text: string, short: ShortClock): number | undefined {
  const match = clockPattern.exec(text);
  if (!match) return undefined;
  const [, a = '', b = '', c, fraction = '', half, zone] = match;
  const [hours, minutes, seconds] = c !== undefined ? [a, b, c] : short === 'hh:mm' ? [a, b, '0'] : ['0', a, b];
  if (Number(minutes) > 59 || Number(seconds) > 60) return undefined;
  let hour = Number(hours);
  if (half !== undefined) {
    if (hour < 1 || hour > 12) return undefined;
    hour = (hour % 12) + (/^p/i.test(half) ? 12 : 0);
  }
  // One parse of the decimal text, so that 41.1 s is the double nearest to 41.1.
  return hour * 3600 + Number(minutes) * 60 + Number(`${seconds}.${fraction || '0'}`) - offsetOf(zone);
}

function offsetOf(zone: string | undefined): number {
  if (zone === undefined || zone === 'Z') return 0;
  const digits = zone.replaceAll(/\D/g, '');
  return (zone.startsWith('-') ? -1 : 1) * (Number(digits.slice(0, 2)) * 3600 + Number(digits.slice(2)) * 60);
}

/** The order that a date proves; `undefined` where both can be meant, `null` where nothing is to be told apart. */
export function dateOrderOf(text: string): DateOrder | null | undefined {
  const [, , , , , first, , second] = datePattern.exec(text) ?? [];
  if (first === undefined || second === undefined) return null;
  if (Number(first) > 12) return 'day-first';
  if (Number(second) > 12) return 'month-first';
  return Number(first) === Number(second) ? null : undefined;
}

/** Days since 1 January 1970; `undefined` where there is no such day. */
export function dayOfDate(text: string, order: DateOrder): number | undefined {
  const match = datePattern.exec(text);
  if (!match) return undefined;
  const [, isoYear, , isoMonth = '', isoDay = '', first, , second = '', lastYear = '', day = '', name = '', namedYear = ''] = match;
  const [y, m, d] =
    isoYear !== undefined
      ? [Number(isoYear), Number(isoMonth), Number(isoDay)]
      : first !== undefined
        ? [year(lastYear), Number(order === 'day-first' ? second : first), Number(order === 'day-first' ? first : second)]
        : [year(namedYear), months.indexOf(name.slice(0, 3).toLowerCase()) + 1, Number(day)];
  const at = new Date(Date.UTC(y, m - 1, d));
  return at.getUTCMonth() === m - 1 && at.getUTCDate() === d ? at.getTime() / 86_400_000 : undefined;
}
