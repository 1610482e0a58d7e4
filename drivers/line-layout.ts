import type { ContactReading, Fault } from './driver.js';
import { wholePattern, type LineOptions } from './line-options.js';
import { parseNumber } from './number-format.js';
import { signalUnitOf } from './signal-unit.js';

/** What a line says. */
export type Decoded =
  | { readonly value: number; readonly unit: string | null; readonly contacts?: readonly Contact[] }
  | { readonly fault: Fault };
export type Contact = Pick<ContactReading, 'contact' | 'state'>;

type Fields = { readonly value: string; readonly unit: string | null; readonly state?: string; readonly contacts?: readonly Contact[] };

/** Anything but printable ASCII and tab is damage to the whole line. */
const damage = /[^\x20-\x7e\t]/;
/**
 * `P1= 550.2 bar`, `>+12.345`, `550,2;bar`: an optional label or prompt, a number or a word, an optional unit. Not any
 * label: an instrument that sends `P1=` and `T1=` by turns must not have its temperature read as a pressure.
 */
const freeLine = (label: string) => new RegExp(`^(?:(?:${label})\\s*[=:]|[>#@])?\\s*(?<rest>.+)$`);
const numberThenUnit = /^(?<value>[+-]?\s*(?:\d+(?:[.,]\d+)*|[.,]\d+)(?:[eE][+-]?\d+)?)(?:\s*[;,\s]?\s*(?<unit>[A-Za-z%][A-Za-z0-9/()%]*))?$/;
const wordThenUnit = /^(?<value>\S+)\s+(?<unit>[A-Za-z%][A-Za-z0-9/()%]*)$/;
/** SCPI-1999 (volume 1, 7.2.1): 9.9E37 stands for infinity and 9.91E37 for not-a-number; from memory. */
const standIn = 9e37;
const notANumber = 9.91e37;

/** A pure function from the text of one line to what it says; made once for each link. */
export function lineLayout(options: LineOptions): (line: string) => Decoded {
  const fieldsOf = options.pattern !== undefined ? byPattern(options.pattern, options) : options.column !== undefined ? byColumn(options) : freely(options);
  const mark = marksOf(options.marks);
  const start = options.lineStart ?? '';
  return (received) => {
    const line = received.startsWith(start) ? received.slice(start.length) : received;
    if (damage.test(line)) return { fault: 'damaged' };
    if (!received.startsWith(start)) return { fault: 'malformed' };
    if (options.lineLength !== undefined && line.length !== options.lineLength) return { fault: 'malformed' };
    const body = options.checksum === 'xor' ? verified(line) : line.trim();
    if (body === null) return { fault: 'checksum' };
    // An instrument that has no number may drop its layout, too.
    const instead = body === '' ? undefined : mark(body);
    if (instead !== undefined) return { fault: instead };
    const fields = fieldsOf(body);
    if (fields === null) return { fault: 'malformed' };
    const said = mark(fields.value) ?? (fields.state === undefined ? undefined : mark(fields.state));
    if (said !== undefined) return { fault: said };
    const value = parseNumber(fields.value, options.numberFormat);
    if (value === null) return { fault: 'malformed' };
    if (value === notANumber) return { fault: 'no-reading' };
    if (Math.abs(value) >= standIn) return { fault: value > 0 ? 'over-range' : 'under-range' };
    return { value, unit: fields.unit, ...(fields.contacts && { contacts: fields.contacts }) };
  };
}

function freely({ label = '[Pp]1?|PRESS|Press|press|PRESSURE|Pressure|pressure' }: LineOptions): (line: string) => Fields | null {
  const head = freeLine(label);
  return (line) => {
    const rest = head.exec(line)?.groups?.['rest'];
    if (rest === undefined) return null;
    const number = numberThenUnit.exec(rest)?.groups;
    const found = number ?? wordThenUnit.exec(rest)?.groups;
    const unit = found?.['unit'] ?? null;
    if (found !== undefined && (unit === null || signalUnitOf(unit) !== undefined)) return { value: found['value'] ?? '', unit };
    // `ERR 5` is neither: the whole rest is a word.
    return number === undefined ? { value: rest, unit: null } : null;
  };
}

function byPattern(source: string, options: LineOptions): (line: string) => Fields | null {
  const pattern = wholePattern(source);
  return (line) => {
    const groups = pattern.exec(line)?.groups;
    const value = groups?.['value'];
    if (groups === undefined || value === undefined) return null;
    const contacts = contactsOf(groups, options.contacts);
    if (contacts === null) return null;
    const state = groups['state'];
    return { value, unit: groups['unit']?.trim() || null, contacts, ...(state !== undefined && { state }) };
  };
}

function byColumn({ column = 1, columns = 1, unitColumn, separator = ';' }: LineOptions): (line: string) => Fields | null {
  return (line) => {
    const fields = separator === ' ' ? line.trim().split(/ +/) : line.split(separator);
    if (fields.length !== columns) return null;
    const unit = unitColumn === undefined ? '' : (fields[unitColumn - 1] ?? '').trim();
    return { value: (fields[column - 1] ?? '').trim(), unit: unit || null };
  };
}

/** The states that a line names; `null` when one of them is none of the configured words. */
function contactsOf(groups: Record<string, string | undefined>, rules: LineOptions['contacts']): Contact[] | null {
  const found: Contact[] = [];
  for (const contact of ['lid', 'vent', 'pump'] as const) {
    const rule: Partial<Record<Contact['state'], string>> | undefined = rules?.[contact];
    const text = groups[contact];
    if (rule === undefined || text === undefined) continue;
    const state = (['open', 'closed', 'on', 'off'] as const).find((s) => rule[s] === text);
    if (state === undefined) return null;
    found.push({ contact, state });
  }
  return found;
}

function marksOf(marks: LineOptions['marks']): (field: string) => Fault | undefined {
  const byWord = new Map<string, Fault>();
  const add = (words: readonly string[], fault: Fault) => words.forEach((word) => byWord.set(word.toUpperCase(), fault));
  add(marks.overRange, 'over-range');
  add(marks.underRange, 'under-range');
  add(marks.noReading, 'no-reading');
  add(marks.error, 'error-word');
  return (field) => {
    const word = field.trim().toUpperCase();
    // An empty field is a reading that the instrument did not have.
    if (word === '') return 'no-reading';
    // An error word often carries a number: `ERR 05`.
    return byWord.get(word) ?? (word.charAt(0) >= 'A' ? byWord.get(word.replace(/[\s:#-]*\d+$/, '')) : undefined);
  };
}

/** What stands between `$` and `*hh`, when the exclusive or of its bytes is hh; the checksum of NMEA 0183 (from memory). */
function verified(line: string): string | null {
  const match = /^[$!](.*)\*([0-9A-Fa-f]{2})$/.exec(line.trim());
  if (!match) return null;
  const [, body = '', sum = ''] = match;
  let xor = 0;
  for (let i = 0; i < body.length; i++) xor ^= body.charCodeAt(i);
  return xor === Number.parseInt(sum, 16) ? body : null;
}

/** Bytes as text for logs: what is not printable ASCII becomes \xHH. */
export const shownBytes = (text: string): string =>
  text.replaceAll(/[^\x20-\x7e]/g, (c) => `\\x${c.charCodeAt(0).toString(16).toUpperCase().padStart(2, '0')}`);
