import { deflateRawSync, inflateRawSync } from 'node:zlib';
import type { ByteReader, ByteWriter } from './bytes.js';
import { riceDecode, riceEncode } from './rice.js';
import { findSteps, stepValues } from './steps.js';

const asDoubles = 0;
const asSteps = 1;

/** `drifting` for times, which grow by nearly the same from one to the next. */
export type ColumnShape = 'drifting' | 'level';

/** Writes doubles so that `readColumn` gives back the very same bits (every NaN counts as the same). */
export function writeColumn(out: ByteWriter, values: Float64Array, shape: ColumnShape): void {
  const steps = findSteps(values);
  if (!steps) {
    out.byte(asDoubles);
    writeDoubles(out, values);
    return;
  }
  const { numbers } = steps;
  const base = numbers[0] ?? 0;
  const divisor = commonDivisor(numbers, base);
  for (let i = 0; i < numbers.length; i++) numbers[i] = (numbers[i]! - base) / divisor;
  const drift = shape === 'drifting' ? usualDifference(numbers) : 0;
  const coded = riceEncode(numbers, drift);
  out.byte(asSteps);
  out.byte(steps.way);
  out.byte(steps.places);
  out.signed(base);
  out.varint(divisor);
  out.signed(drift);
  out.varint(steps.exceptions.length);
  for (const { start, length, value } of steps.exceptions) {
    out.varint(start);
    out.varint(length);
    out.float64(value);
  }
  out.varint(coded.length);
  out.raw(coded);
}

export function readColumn(from: ByteReader, count: number): Float64Array {
  const mode = from.byte();
  if (mode === asDoubles) return readDoubles(from, count);
  if (mode !== asSteps) throw new RangeError(`unknown kind of column: ${mode}`);
  const way = from.byte();
  const places = from.byte();
  const base = from.signed();
  const divisor = from.varint();
  const drift = from.signed();
  const exceptions = Array.from({ length: from.varint() }, () => [from.varint(), from.varint(), from.float64()] as const);
  const numbers = riceDecode(from.raw(from.varint()), count, drift);
  const values = stepValues(way, places, base, divisor, numbers);
  for (const [start, length, value] of exceptions) values.fill(value, start, start + length);
  return values;
}

/** The doubles themselves, byte plane by byte plane: signs and exponents alike lie together and deflate well. */
export function writeDoubles(out: ByteWriter, values: Float64Array): void {
  const n = values.length;
  const plain = new DataView(new ArrayBuffer(8));
  const planes = new Uint8Array(n * 8);
  for (let i = 0; i < n; i++) {
    plain.setFloat64(0, values[i]!, true);
    for (let b = 0; b < 8; b++) planes[b * n + i] = plain.getUint8(b);
  }
  const packed = deflateRawSync(planes, { level: 6 });
  out.varint(packed.length);
  out.raw(packed);
}

export function readDoubles(from: ByteReader, count: number): Float64Array {
  const planes = inflateRawSync(from.raw(from.varint()), { maxOutputLength: Math.max(count * 8, 1) });
  if (planes.length !== count * 8) throw new RangeError('the block holds another number of values than it says');
  const values = new Float64Array(count);
  const bytes = new Uint8Array(values.buffer);
  for (let b = 0; b < 8; b++) for (let i = 0; i < count; i++) bytes[i * 8 + b] = planes[b * count + i]!;
  return values;
}

/** Largest whole number that divides every distance from `base`: a display that counts in fives. */
function commonDivisor(numbers: Float64Array, base: number): number {
  let divisor = 0;
  for (let i = 0; i < numbers.length && divisor !== 1; i++) {
    let rest = Math.abs(numbers[i]! - base);
    while (rest !== 0) [divisor, rest] = [rest, divisor % rest];
  }
  return divisor === 0 ? 1 : divisor;
}

/** The middle one of the differences between neighbours; a few thousand tell as much as all. */
function usualDifference(numbers: Float64Array): number {
  const n = Math.min(numbers.length, 4097) - 1;
  if (n < 1) return 0;
  const differences = new Float64Array(n);
  for (let i = 0; i < n; i++) differences[i] = numbers[i + 1]! - numbers[i]!;
  return differences.sort()[n >> 1] ?? 0;
}
