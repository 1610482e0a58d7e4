import { InputError } from '../../src/core/problems.js';
import { parseThresholds, thresholdsSchema, type Thresholds } from '../../src/core/thresholds.js';
import { fromBar, pressureUnitOf, toBar, type PressureUnit } from '../../src/core/units.js';
import { ruleIn } from '../../src/library/written-value.js';
import type { Changes } from './change-history.js';
import type { ControlUnit, ThresholdKey } from './threshold-controls.js';

/** What a control may write its number in: its own unit, or pressure in the page's. */
export type ShownUnit = ControlUnit | PressureUnit | `${PressureUnit}/s` | `${PressureUnit}/min`;

export type ThresholdValue = Thresholds[ThresholdKey];

/** The same in pressure instead of shares of the test pressure; `null` where there is no such thing. */
export function inPressure(unit: ControlUnit, pressure: PressureUnit): ShownUnit | null {
  if (unit === '%') return pressure;
  return unit === '%/s' || unit === '%/min' ? `${pressure}/${unit === '%/s' ? 's' : 'min'}` : null;
}

/** Thresholds that are a share of something else, or of which the schema takes no pressure so large. */
const isShareOnly = (key: ThresholdKey): boolean => key === 'burstFraction' || key === 'slewLimit';

/** Units in which a threshold can be written, the usual one first. */
export function unitsOf(key: ThresholdKey, unit: ControlUnit, pressure: PressureUnit): readonly ShownUnit[] {
  const other = isShareOnly(key) ? null : inPressure(unit, pressure);
  return other === null ? [unit] : [unit, other];
}

const parts = (unit: ShownUnit): { readonly of: string; readonly per: number } => {
  const [of = '', time] = unit.split('/');
  return { of, per: time === 'min' ? 60 : 1 };
};

/**
 * A threshold as a number of `unit`.
 * @param testPressure bar, what shares are of
 */
export function numberIn(value: ThresholdValue, unit: ShownUnit, testPressure: number): number {
  if (unit === 'ms') return tidy(Number(value) * 1000);
  if (unit === 's') return tidy(Number(value));
  const { of, per } = parts(unit);
  const share = typeof value === 'number' ? value : value.kind === 'fraction' ? value.value : value.value / testPressure;
  if (of === '%') return tidy(share * 100 * per);
  const bar = typeof value === 'number' ? value * testPressure : value.kind === 'fraction' ? value.value * testPressure : value.value;
  return tidy(fromBar(bar, pressureUnitOf(of) ?? 'bar') * per);
}

/** The unit in which a threshold was written, as far as its value tells. */
export function unitOf(value: ThresholdValue, unit: ControlUnit, pressure: PressureUnit): ShownUnit {
  return typeof value === 'object' && value.kind === 'pressure' ? (inPressure(unit, pressure) ?? unit) : unit;
}

/** bar or bar/s that a number of `unit` means. */
export function barOf(number: number, unit: ShownUnit, testPressure: number): number {
  const { of, per } = parts(unit);
  return (of === '%' ? (number / 100) * testPressure : toBar(number, pressureUnitOf(of) ?? 'bar')) / per;
}

/** As a thresholds file has it: `1.2 %`. */
export const writtenAs = (number: number, unit: ShownUnit): string => `${tidy(number)} ${unit}`;

/** No more digits than anybody means, and none that arithmetic left behind. */
const tidy = (number: number): number => Number(number.toPrecision(6));

/** What is wrong with one written threshold, as a sentence; `null` where it is right. */
export function problemWith(key: string, text: string): string | null {
  try {
    parseThresholds({ [key]: text }, '');
    return null;
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return error.problems.map((problem) => problem.text).join('; ');
  }
}

/** Thresholds with some changed. What is not changed keeps its very value. @throws InputError for a change that is none */
export function changed(base: Thresholds, changes: Changes): Thresholds {
  if (Object.keys(changes).length === 0) return base;
  const parsed = parseThresholds(changes, 'changes');
  return { ...base, ...Object.fromEntries(Object.keys(changes).map((key) => [key, parsed[key as keyof Thresholds]])) };
}

/** What a threshold means, and what it may be. */
export function ruleOf(key: ThresholdKey): { readonly meaning: string; readonly range: string; readonly example: string } {
  const rule = ruleIn(thresholdsSchema.shape[key]);
  if (rule === null) throw new RangeError(`the schema says nothing of ${key}`);
  return rule;
}

/** Where a number stands on a slider of equal ratios, 0 to 1; outside values stand at the ends. */
export const shareOnSlider = (number: number, [low, high]: readonly [number, number]): number =>
  Math.min(Math.max(Math.log(number / low) / Math.log(high / low), 0), 1);

/** The number at a place of the slider, to three digits. */
export const numberOnSlider = (share: number, [low, high]: readonly [number, number]): number => Number((low * (high / low) ** share).toPrecision(3));
