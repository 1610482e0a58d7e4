import { fromBar, toBar, type PressureUnit } from '../../src/core/units.js';
import type { PlanLines } from '../../src/sinks/live-protocol.js';

/** Lower and upper end of the pressure axis, bar. */
export type Range = readonly [low: number, high: number];

/** The whole range of a run: from the vented bench to above ceiling and everything measured. */
export function runRange(plan: PlanLines | null, highest: number): Range {
  const top = Math.max(plan?.ceiling ?? 0, (plan?.testPressure ?? 0) * 1.05, Number.isFinite(highest) ? highest : 0, 10);
  return [-0.03 * top, 1.12 * top];
}

/** As near as what is drawn allows; never nearer than `least` bar, below which only the last digit moves. */
export function nearRange(lowest: number, highest: number, least: number): Range {
  if (!(highest >= lowest)) return [0, 10];
  const span = Math.max(highest - lowest, least);
  const middle = (highest + lowest) / 2;
  return [middle - 0.6 * span, middle + 0.7 * span];
}

/** Labelled pressures: steps of 1, 2 or 5 in the unit shown, given in bar. */
export function pressureTicks([low, high]: Range, unit: PressureUnit, most: number): { readonly at: number[]; readonly decimals: number } {
  const [from, to] = [fromBar(low, unit), fromBar(high, unit)];
  const rough = Math.max((to - from) / Math.max(most, 1), 1e-6);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = ([1, 2, 5, 10].find((s) => s * power >= rough) ?? 10) * power;
  const at: number[] = [];
  for (let n = Math.ceil(from / step); n * step <= to; n++) at.push(toBar(n * step, unit));
  return { at, decimals: Math.min(Math.max(Math.ceil(-Math.log10(step) - 1e-9), 0), 6) };
}
