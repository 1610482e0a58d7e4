/**
 * Finds the step of the instrument in its readings, so that they can be kept as whole numbers and given back bit by bit.
 *
 * A display of 0.01 bar sends `120.35`: read as a double that is exactly 12035 / 100. Other instruments send a
 * 4-byte float, binary fractions, or are multiplied by their step. Each way is tried and checked by doing it.
 */
export interface Steps {
  readonly way: number;
  /** Decimal places, or binary ones for way 1. */
  readonly places: number;
  /** One for each value; where the value does not fit, the number before it. */
  readonly numbers: Float64Array;
  readonly exceptions: readonly Exception[];
}

/** Values that are no whole number of steps (NaN, -0, a stray reading), as runs of the same one. */
export interface Exception {
  readonly start: number;
  readonly length: number;
  readonly value: number;
}

const ways: readonly { readonly base: number; readonly most: number; readonly value: (n: number, scale: number, step: number) => number }[] = [
  { base: 10, most: 9, value: (n, scale) => n / scale },
  { base: 2, most: 24, value: (n, scale) => n / scale },
  { base: 10, most: 6, value: (n, _scale, step) => n * step },
  { base: 10, most: 5, value: (n, scale) => Math.fround(n / scale) },
];

const scaleOf = (way: number, places: number): number => (ways[way]?.base ?? 10) ** places;

/** Turns numbers n into the doubles that base + divisor * n steps stand for, in place. */
export function stepValues(way: number, places: number, base: number, divisor: number, numbers: Float64Array): Float64Array {
  const convert = ways[way]?.value;
  if (!convert) throw new RangeError(`unknown kind of steps: ${way}`);
  const scale = scaleOf(way, places);
  const step = 1 / scale;
  if (way < 2) for (let i = 0; i < numbers.length; i++) numbers[i] = (base + divisor * numbers[i]!) / scale;
  else for (let i = 0; i < numbers.length; i++) numbers[i] = convert(base + divisor * numbers[i]!, scale, step);
  return numbers;
}

/** The coarsest step that fits, or `null` when too many values fit none. */
export function findSteps(values: Float64Array): Steps | null {
  const n = values.length;
  let never = 0;
  for (let i = 0; i < n; i++) {
    const v = values[i]!;
    if ((!Number.isFinite(v) || Object.is(v, -0)) && (i === 0 || !Object.is(v, values[i - 1]!))) never++;
  }
  const allowed = 2 + Math.floor(n / 8);
  let best: { way: number; places: number; misses: number } | null = null;
  for (let way = 0; way < ways.length && best?.misses !== never; way++) {
    for (let places = way === 0 ? 0 : 1; places <= ways[way]!.most; places++) {
      const limit: number = best ? best.misses - 1 : allowed;
      const misses = countMisses(values, way, places, limit);
      if (misses <= limit) best = { way, places, misses };
      if (misses === never) break;
    }
  }
  return best && { way: best.way, places: best.places, ...split(values, best.way, best.places) };
}

/** 2^46: differences of differences of such numbers are still exact in a double. */
const largest = 2 ** 46;

/** Runs of values that do not fit; stops counting beyond `limit`. */
function countMisses(values: Float64Array, way: number, places: number, limit: number): number {
  const { value } = ways[way]!;
  const scale = scaleOf(way, places);
  const step = 1 / scale;
  let misses = 0;
  let before = NaN;
  let missedBefore = false;
  for (let i = 0; i < values.length; i++) {
    const v = values[i]!;
    const k = Math.round(v * scale);
    const fits = value(k, scale, step) === v && Math.abs(k) < largest && !(v === 0 && Object.is(v, -0));
    if (!fits && !(missedBefore && Object.is(v, before)) && ++misses > limit) return misses;
    missedBefore = !fits;
    before = v;
  }
  return misses;
}

function split(values: Float64Array, way: number, places: number): { numbers: Float64Array; exceptions: Exception[] } {
  const { value } = ways[way]!;
  const scale = scaleOf(way, places);
  const step = 1 / scale;
  const numbers = new Float64Array(values.length);
  const exceptions: { start: number; length: number; value: number }[] = [];
  let previous = 0;
  for (let i = 0; i < values.length; i++) {
    const v = values[i]!;
    const k = Math.round(v * scale);
    if (value(k, scale, step) === v && Math.abs(k) < largest && !Object.is(v, -0)) {
      previous = k + 0; // Math.round may give -0, which is no whole number to count with
    } else {
      const last = exceptions.at(-1);
      if (last && last.start + last.length === i && Object.is(last.value, v)) last.length++;
      else exceptions.push({ start: i, length: 1, value: v });
    }
    numbers[i] = previous;
  }
  return { numbers, exceptions };
}
