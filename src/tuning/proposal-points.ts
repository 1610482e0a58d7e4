import { standardThresholds, type Thresholds } from '../core/thresholds.js';
import { proposalGrid } from './proposal-grid.js';
import { spikeKeys } from './sweep.js';
import { thresholdOf, written, type ThresholdKey } from './written-thresholds.js';

/** Values of one threshold, or of some together. */
export interface Point {
  /** The same object for all values of the same thresholds. */
  readonly keys: readonly ThresholdKey[];
  readonly change: Partial<Thresholds>;
}

/** Thresholds of which one alone may do no good before the other is right: a slope that is met too late, a time that ends too early. */
const coupled: readonly (readonly ThresholdKey[])[] = [['settleSlope', 'settleTimeout'], ['quietTime', 'settleSlope']];

/** What is tried: each threshold over its values, the coupled ones in pairs, and the standard values of `standardOf` at once. */
export function pointsOf(keys: readonly ThresholdKey[], standardOf: readonly ThresholdKey[]): Point[] {
  const pairs = coupled.filter((pair) => pair.every((key) => keys.includes(key)));
  return [...keys.flatMap((key) => valuesOf([key])), ...pairs.flatMap(valuesOf), ...standardPoint(standardOf)];
}

function valuesOf(keys: readonly ThresholdKey[]): Point[] {
  const changes = keys.reduce<Partial<Thresholds>[]>((all, key) => all.flatMap((one) => (proposalGrid[key] ?? []).map((text) => ({ ...one, ...thresholdOf(key, text, 'tune') }))), [{}]);
  return changes.map((change) => ({ keys, change }));
}

/** All standard values of what decides verdicts at once: several that are wrong together can hide each other, and no pair mends three. */
function standardPoint(keys: readonly ThresholdKey[]): Point[] {
  const deciding = keys.filter((key) => !spikeKeys.includes(key));
  return deciding.length > 1 ? [{ keys: deciding, change: Object.fromEntries(deciding.map((key) => [key, standardThresholds[key]])) }] : [];
}

/** Whether a point has nothing but standard values. */
export const isStandard = ({ keys, change }: Point): boolean =>
  keys.every((key) => written({ ...standardThresholds, ...change }, key) === written(standardThresholds, key));
