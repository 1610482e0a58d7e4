import { fromBar, type PressureUnit } from '../src/core/units.js';

/** How an ASCII instrument writes a reading: `+0123.45 bar` and a line end. */
export interface LineFormat {
  readonly unit: PressureUnit;
  /** Digits after the decimal sign. */
  readonly decimals: number;
  /** Digits before it, filled with zeros; 0 for as many as needed. */
  readonly digits: number;
  readonly plusSign: boolean;
  readonly showUnit: boolean;
  readonly decimalSign: '.' | ',';
  readonly terminator: string;
}

export const standardFormat: LineFormat = {
  unit: 'bar', decimals: 2, digits: 4, plusSign: true, showUnit: true, decimalSign: '.', terminator: '\r\n',
};

/** One line, terminator included, for a pressure in bar. */
export function lineOf(pressure: number, format: LineFormat): string {
  const value = fromBar(pressure, format.unit);
  const text = Math.abs(value).toFixed(format.decimals);
  const isNegative = value < 0 && Number(text) !== 0;
  const [whole = '0', fraction] = text.split('.');
  const number = whole.padStart(format.digits, '0') + (fraction === undefined ? '' : format.decimalSign + fraction);
  const sign = isNegative ? '-' : format.plusSign ? '+' : '';
  return sign + number + (format.showUnit ? ` ${format.unit}` : '') + format.terminator;
}
