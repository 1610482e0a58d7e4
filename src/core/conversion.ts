import { toBar, type PressureUnit } from './units.js';

/**
 * How readings of an instrument become pressure; plain data, so that a record can keep it and anybody can repeat the
 * step. Numbers given in this order of arithmetic come out the same to the last bit.
 */
export interface Conversion {
  /** What the instrument sends: a unit of pressure, or where two points say the pressure any other, such as mA. */
  readonly unit: string;
  /** Which reading stands for which pressure (bar); `null` where the reading is a pressure. */
  readonly scaling: { readonly lower: ScalePoint; readonly upper: ScalePoint } | null;
  /** The certificate's correction, in bar: constant + linear p + quadratic p^2; `null` where readings are taken as they are. */
  readonly coefficients: Coefficients | null;
}

export interface ScalePoint {
  readonly reading: number;
  /** bar */ readonly pressure: number;
}

export interface Coefficients {
  /** bar */ readonly constant: number;
  readonly linear: number;
  /** 1/bar */ readonly quadratic: number;
}

/** bar, before the correction. */
export function scaled({ unit, scaling }: Conversion, reading: number): number {
  if (scaling === null) return toBar(reading, unit as PressureUnit);
  const { lower, upper } = scaling;
  return lower.pressure + ((reading - lower.reading) * (upper.pressure - lower.pressure)) / (upper.reading - lower.reading);
}

/** bar, corrected by the certificate. */
export function corrected({ coefficients }: Conversion, pressure: number): number {
  if (coefficients === null) return pressure;
  return coefficients.constant + coefficients.linear * pressure + coefficients.quadratic * pressure * pressure;
}

/** bar, from a reading. */
export const convert = (conversion: Conversion, reading: number): number => corrected(conversion, scaled(conversion, reading));
