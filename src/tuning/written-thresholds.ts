import { InputError, nearest, inputError } from '../core/problems.js';
import { parseThresholds, standardThresholds, thresholdKeys, type Thresholds } from '../core/thresholds.js';

/** A threshold with a number: all but their name. */
export type ThresholdKey = Exclude<keyof Thresholds, 'thresholds'>;

/** @throws InputError with the nearest name */
export function thresholdKey(key: string, source: string): ThresholdKey {
  const known = thresholdKeys.filter((name) => name !== 'thresholds');
  if (known.includes(key)) return key as ThresholdKey;
  const hint = nearest(key, known);
  throw inputError(source, key, hint === undefined ? `unknown threshold; known ones are ${known.join(', ')}` : `unknown threshold; did you mean '${hint}'?`);
}

const slopes: readonly string[] = ['slewLimit', 'settleSlope', 'ventRate'] satisfies readonly ThresholdKey[];

/** Without the last digits that only show how computers count. */
const plain = (value: number): string => String(Number(value.toPrecision(9)));

/** A threshold as it is written in a file: `1 %`, `10 s`, `0.3 %/min`. */
export function written(thresholds: Thresholds, key: ThresholdKey): string {
  const value = thresholds[key];
  if (typeof value === 'number') return key === 'burstFraction' ? `${plain(100 * value)} %` : `${plain(value)} s`;
  if (!slopes.includes(key)) return value.kind === 'fraction' ? `${plain(100 * value.value)} %` : `${plain(value.value)} bar`;
  const slow = key === 'settleSlope';
  const rate = slow ? 60 * value.value : value.value;
  return `${plain(value.kind === 'fraction' ? 100 * rate : rate)} ${value.kind === 'fraction' ? '%' : 'bar'}/${slow ? 'min' : 's'}`;
}

/** What is written in a file that gives these thresholds: only what is not standard. */
export function writtenThresholds(thresholds: Thresholds): Record<string, string> {
  const keys = thresholdKeys.filter((key): key is ThresholdKey => key !== 'thresholds');
  const changed = keys.filter((key) => written(thresholds, key) !== written(standardThresholds, key));
  return { thresholds: thresholds.thresholds, ...Object.fromEntries(changed.map((key) => [key, written(thresholds, key)])) };
}

/** One threshold out of its text. @throws InputError */
export function thresholdOf(key: ThresholdKey, text: string, source: string): Partial<Thresholds> {
  try {
    return { [key]: parseThresholds({ [key]: text }, source)[key] };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    throw new InputError(source, error.problems, { cause: error });
  }
}
