import type { Decimal } from './import-options.js';

const plain = /^[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?$/;
const plainComma = /^[+-]?\d+,\d+$/;
const grouped: Readonly<Record<Decimal, RegExp>> = {
  point: /^([+-]?)(\d+|\d{1,3}(?:[,'\u00a0\u202f]\d{3})+)?(?:\.(\d*))?([eE][+-]?\d+)?$/,
  comma: /^([+-]?)(\d+|\d{1,3}(?:[.'\u00a0\u202f]\d{3})+)?(?:,(\d*))?([eE][+-]?\d+)?$/,
};

/**
 * The number that the whole of `text` is in the given format, or `undefined`. A single group without decimals (`1,234`
 * with a decimal point, `1.234` with a decimal comma) is not a number of either format: it could be meant both ways.
 */
export function parseNumber(text: string, decimal: Decimal): number | undefined {
  if (decimal === 'point' && plain.test(text)) return Number(text);
  if (decimal === 'comma' && plainComma.test(text)) return Number(text.replace(',', '.'));
  const match = grouped[decimal].exec(text);
  if (!match) return undefined;
  const [, sign = '', whole = '', fraction, exponent = ''] = match;
  if (whole === '' && !fraction) return undefined;
  const groups = whole.split(/[.,'\u00a0\u202f]/);
  if (groups.length === 2 && fraction === undefined && /[.,]/.test(whole)) return undefined;
  return Number(`${sign}${groups.join('') || '0'}.${fraction || '0'}${exponent}`);
}

/** Digits after the decimal sign, less the exponent: `350.25` has 2, `1.5e-3` has 4. */
export function decimalsOf(text: string, decimal: Decimal): number {
  const power = Math.max(text.indexOf('e'), text.indexOf('E'));
  const length = power < 0 ? text.length : power;
  const sign = text.lastIndexOf(decimal === 'point' ? '.' : ',');
  return Math.max(0, (sign < 0 ? 0 : length - sign - 1) - (power < 0 ? 0 : Number(text.slice(power + 1))));
}

/** Which decimal sign a number proves; `undefined` for whole numbers and for those that fit both (`1.234`). */
export function decimalProvenBy(text: string): Decimal | undefined {
  const digits = text.replace(/^[+-]/, '').replace(/[eE].*$/, '');
  const points = digits.split('.').length - 1;
  const commas = digits.split(',').length - 1;
  if (points === 0 && commas === 0) return undefined;
  if (points > 0 && commas > 0) return digits.lastIndexOf('.') > digits.lastIndexOf(',') ? 'point' : 'comma';
  if (points > 1) return 'comma';
  if (commas > 1) return 'point';
  const here: Decimal = points === 1 ? 'point' : 'comma';
  const [before = '', after = ''] = digits.split(points === 1 ? '.' : ',');
  const mayBeGroup = after.length === 3 && before.length >= 1 && before.length <= 3 && !before.startsWith('0') && digits.length === text.replace(/^[+-]/, '').length;
  return mayBeGroup ? undefined : here;
}
