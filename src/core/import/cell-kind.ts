import { pressureUnitOf } from '../units.js';
import { isClock, isDate, splitDateTime } from './clock.js';

/** What a field of a table looks like, before anybody knows what it is for. */
export type CellKind = 'empty' | 'number' | 'nan' | 'clock' | 'date' | 'date-time' | 'text';

const number = /^[+-]?(?:\d(?:[\d.,'\u00a0\u202f]*\d)?[.,]?|[.,]\d+)(?:[eE][+-]?\d+)?$/;
const nan = /^[+-]?(?:nan|inf|infinity)$/i;
const withUnit = /^([+-]?[\d.,][\d.,'eE+-]*)\s*([A-Za-z][^\d\s]*[A-Za-z\d²)]*)$/;

/** Kind of a field without blanks around it. */
export function cellKind(text: string): CellKind {
  if (text === '') return 'empty';
  if (isDate(text)) return 'date';
  if (number.test(text)) return 'number';
  if (nan.test(text)) return 'nan';
  if (isClock(text)) return 'clock';
  if (splitDateTime(text)) return 'date-time';
  return splitUnit(text) ? 'number' : 'text';
}

/** `350.2 bar` -> number and unit; only for units of pressure. */
export function splitUnit(text: string): { readonly number: string; readonly unit: string } | undefined {
  const [, digits = '', unit = ''] = withUnit.exec(text) ?? [];
  return pressureUnitOf(unit) !== undefined && number.test(digits) ? { number: digits, unit } : undefined;
}
