import { inputError } from '../core/problems.js';
import type { Thresholds } from '../core/thresholds.js';
import { thresholdKey, thresholdOf, type ThresholdKey } from './written-thresholds.js';

/** A threshold and the values to try, as written. */
export interface Sweep {
  readonly key: ThresholdKey;
  readonly values: readonly string[];
}

/** One combination of values. */
export interface SweepPoint {
  /** As written. */
  readonly values: Readonly<Partial<Record<ThresholdKey, string>>>;
  readonly changes: Partial<Thresholds>;
}

const usual = 7;
const most = 25;

/**
 * `spikeHeight=0.5 %..3 %/6`: from, to, and how many values (7 where it is left out). Values are evenly spaced, or by
 * equal factors where the last is at least ten times the first.
 * @throws InputError
 */
export function parseSweep(text: string): Sweep {
  const source = '--sweep';
  const [, name, range = '', count] = /^\s*(\w+)\s*=\s*(.*?)(?:\/(\d+))?\s*$/.exec(text) ?? [];
  const [, from, fromUnit, to, toUnit] = /^([+-]?[\d.]+)\s*(.*?)\s*\.\.\s*([+-]?[\d.]+?)\s*([^\d.\s].*)?$/.exec(range) ?? [];
  if (name === undefined || from === undefined || to === undefined) throw inputError(source, '', `'${text}' should be a threshold and a range, for example 'spikeHeight=0.5 %..3 %/6'`);
  const key = thresholdKey(name, source);
  const unit = toUnit?.trim() ?? fromUnit ?? '';
  if (unit === '' || (fromUnit !== '' && fromUnit !== unit)) throw inputError(source, key, `'${range}' should have one unit for both ends, for example '0.5 %..3 %'`);
  const [low, high, n] = [Number(from), Number(to), count === undefined ? usual : Number(count)];
  if (!(low < high)) throw inputError(source, key, `'${range}' should go from a smaller to a larger value`);
  if (n < 2 || n > most) throw inputError(source, key, `${n} values should be 2 to ${most}`);
  const byFactors = low > 0 && high >= 10 * low;
  const numbers = Array.from({ length: n }, (_, i) => {
    const share = i / (n - 1);
    const value = byFactors ? low * (high / low) ** share : low + share * (high - low);
    // The ends stay as they were written; between them three digits are enough.
    return i === 0 ? low : i === n - 1 ? high : Number(value.toPrecision(3));
  });
  const values = [...new Set(numbers)].map((value) => `${value} ${unit}`);
  for (const value of values) thresholdOf(key, value, source);
  return { key, values };
}

/** Every combination of one or two sweeps. @throws InputError for more, or the same threshold twice */
export function sweepPoints(sweeps: readonly Sweep[]): readonly SweepPoint[] {
  const [first, second] = sweeps;
  if (first === undefined || sweeps.length > 2) throw inputError('--sweep', '', `${sweeps.length} thresholds should be one or two: more cannot be seen in a table`);
  if (first.key === second?.key) throw inputError('--sweep', first.key, 'is given twice');
  const point = (sweep: Sweep, value: string): SweepPoint => ({ values: { [sweep.key]: value }, changes: thresholdOf(sweep.key, value, '--sweep') });
  const ones = first.values.map((value) => point(first, value));
  if (second === undefined) return ones;
  return ones.flatMap((one) => second.values.map((value) => {
    const other = point(second, value);
    return { values: { ...one.values, ...other.values }, changes: { ...one.changes, ...other.changes } };
  }));
}
