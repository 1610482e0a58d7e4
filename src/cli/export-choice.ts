import { inputError } from '../core/problems.js';

/** `12` or `12-20` as first and last number. @throws InputError */
export function numberRange(text: string): readonly [number, number] {
  const [, first, last] = /^\s*(\d{1,12})\s*(?:-\s*(\d{1,12})\s*)?$/.exec(text) ?? [];
  const range = [Number(first), Number(last ?? first)] as const;
  if (first !== undefined && range[0] >= 1 && range[0] <= range[1]) return range;
  throw inputError('--run', '', `'${text}' should be the number of a run or a range, for example 12 or 12-20`);
}

/** Days of this computer's calendar as moments, ms since 1970; the last day is included. @throws InputError */
export function dayChoice(since: string | undefined, until: string | undefined): { since?: number; until?: number } {
  const first = since === undefined ? undefined : midnight(since, '--since', 0);
  const end = until === undefined ? undefined : midnight(until, '--until', 1);
  if (first !== undefined && end !== undefined && end <= first) throw inputError('--until', '', `'${until}' lies before --since '${since}'`);
  return { ...(first !== undefined && { since: first }), ...(end !== undefined && { until: end }) };
}

function midnight(text: string, option: string, later: number): number {
  const [, year, month, day] = /^\s*(\d{4})-(\d{2})-(\d{2})\s*$/.exec(text) ?? [];
  const date = new Date(Number(year), Number(month) - 1, Number(day));
  // A 31st of February would quietly become the 3rd of March.
  if (date.getMonth() === Number(month) - 1 && date.getDate() === Number(day)) return new Date(Number(year), Number(month) - 1, Number(day) + later).getTime();
  throw inputError(option, '', `'${text}' should be a day, for example 2027-03-01`);
}
