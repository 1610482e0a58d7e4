import { convert, type Conversion } from '../core/conversion.js';
import { pressureUnits } from '../core/units.js';
import type { ByteReader, ByteWriter } from './bytes.js';

/** Pressures that do not follow: those of flagged readings, mostly. Beyond this many the conversion is not the one. */
const strayShare = 8;

/**
 * Writes pressures as the conversion that they follow from, and the few that do not, so that a reading with many
 * digits is kept once and not twice.
 * @returns false, with nothing written, where the pressures are not those of the conversion, bit by bit
 */
export function writeByConversion(out: ByteWriter, conversion: Conversion, raw: Float64Array, pressure: Float64Array): boolean {
  const stray: number[] = [];
  for (let i = 0; i < raw.length; i++) {
    if (Object.is(convert(conversion, raw[i]!), pressure[i])) continue;
    stray.push(i);
    if (stray.length > 2 + raw.length / strayShare) return false;
  }
  const { scaling, coefficients } = conversion;
  const unit = Buffer.from(conversion.unit, 'utf8');
  out.varint(unit.length);
  out.raw(unit);
  out.byte((scaling ? 1 : 0) + (coefficients ? 2 : 0));
  if (scaling) for (const value of [scaling.lower.reading, scaling.lower.pressure, scaling.upper.reading, scaling.upper.pressure]) out.float64(value);
  if (coefficients) for (const value of [coefficients.constant, coefficients.linear, coefficients.quadratic]) out.float64(value);
  out.varint(stray.length);
  let before = 0;
  for (const i of stray) {
    out.varint(i - before);
    out.float64(pressure[i]!);
    before = i;
  }
  return true;
}

/** @returns the pressures, and the conversion that they follow from */
export function readByConversion(from: ByteReader, raw: Float64Array): { pressure: Float64Array; conversion: Conversion } {
  const unit = Buffer.from(from.raw(from.varint())).toString('utf8');
  const parts = from.byte();
  const point = () => ({ reading: from.float64(), pressure: from.float64() });
  const scaling = (parts & 1) !== 0 ? { lower: point(), upper: point() } : null;
  const coefficients = (parts & 2) !== 0 ? { constant: from.float64(), linear: from.float64(), quadratic: from.float64() } : null;
  if (scaling === null && !(pressureUnits as readonly string[]).includes(unit)) throw new RangeError(`unknown unit of pressure: ${unit}`);
  const conversion: Conversion = { unit, scaling, coefficients };
  const pressure = raw.map((value) => convert(conversion, value));
  let at = 0;
  for (let left = from.varint(); left > 0; left--) {
    at += from.varint();
    pressure[at] = from.float64();
  }
  return { pressure, conversion };
}
