import type { HoldDetail } from '../../src/core/hold-detail.js';
import type { Cycle, FoundEvent } from '../../src/core/outcome.js';
import { readingLimits, type Thresholds } from '../../src/core/thresholds.js';
import type { Plan } from '../../src/core/plan.js';
import { planLimits, type PlanLimit } from './plan-values.js';
import type { ThresholdKey } from './threshold-controls.js';

/** A threshold, or a limit of the plan on trial. */
export type HandleKey = ThresholdKey | `plan.${PlanLimit}`;

/** The limit that a handle is for; `null` where it is for a threshold. */
export const limitIn = (key: HandleKey): PlanLimit | null => planLimits.find((limit) => key === `plan.${limit}`) ?? null;

/** Something that can be taken hold of on the plot. */
export interface Handle {
  readonly key: HandleKey;
  /** Which way it goes: along the time or the pressure. */
  readonly along: 'time' | 'pressure';
  /** Where it stands: s and bar. */
  readonly time: number;
  readonly pressure: number;
  /** `line`: it stands for a line across the plot; `limit`: for one that is drawn already; `box`: for a side of the spike box. */
  readonly of: 'line' | 'limit' | 'box';
  /** What the threshold is, in s, bar or bar/s, when the handle stands at this time or pressure; never below 0. */
  readonly valueAt: (place: number) => number;
}

/** The box that an excursion must leave upward, and fit in sideways, to be a spike; s and bar. */
export interface SpikeBox {
  readonly from: number;
  readonly to: number;
  readonly low: number;
  readonly high: number;
}

export interface PlotScene {
  readonly thresholds: Thresholds;
  /** bar */ readonly testPressure: number;
  readonly cycle: Cycle | null;
  readonly hold: HoldDetail | null;
  /** The excursion that is looked at. */
  readonly event: FoundEvent | null;
  /** On trial; `null` where each run has its own. */
  readonly plan: Plan | null;
}

/** s that the line of the settled slope is drawn over, after the start of the hold. */
export const slopeSpan = 20;

/** Around the excursion that is looked at; `null` where none is. */
export function spikeBox({ thresholds, testPressure, event }: PlotScene): SpikeBox | null {
  if (event?.pressure === undefined || event.height === undefined || event.height <= 0) return null;
  const { spikeHeight, spikeWidth } = readingLimits(thresholds, testPressure);
  const low = event.pressure - event.height;
  return { from: event.at - spikeWidth / 2, to: event.at + spikeWidth / 2, low, high: low + spikeHeight };
}

const least = (value: number): number => Math.max(0, value);

/** Handles for what can be seen of a reading. */
export function handlesOf(scene: PlotScene): Handle[] {
  const { thresholds, testPressure, cycle, hold, event, plan } = scene;
  const limits = readingLimits(thresholds, testPressure);
  const handles: Handle[] = [];
  const rise = cycle?.rising ?? null;
  if (rise !== null) {
    for (const key of ['ventPressure', 'attemptPressure'] as const) {
      handles.push({ key, along: 'pressure', time: rise, pressure: limits[key], of: 'line', valueAt: least });
    }
  }
  const stopped = hold?.lastPumping ?? null;
  if (stopped !== null) {
    handles.push({ key: 'quietTime', along: 'time', time: stopped + limits.quietTime, pressure: 0.55 * testPressure, of: 'line', valueAt: (t) => least(t - stopped) });
    const quiet = stopped + limits.quietTime;
    handles.push({ key: 'settleTimeout', along: 'time', time: quiet + limits.settleTimeout, pressure: 0.45 * testPressure, of: 'line', valueAt: (t) => least(t - quiet) });
  }
  const [settled, start] = [cycle?.settled ?? null, cycle?.holdStartPressure ?? null];
  if (settled !== null && start !== null) {
    const end = settled + slopeSpan;
    handles.push({ key: 'settleSlope', along: 'pressure', time: end, pressure: start - limits.settleSlope * slopeSpan, of: 'line', valueAt: (p) => least((start - p) / slopeSpan) });
    handles.push({ key: 'topUpHeight', along: 'pressure', time: settled + slopeSpan / 2, pressure: start + limits.topUpHeight, of: 'line', valueAt: (p) => least(p - start) });
  }
  const box = spikeBox(scene);
  if (box !== null && event !== null) {
    handles.push({ key: 'spikeHeight', along: 'pressure', time: event.at, pressure: box.high, of: 'box', valueAt: (p) => least(p - box.low) });
    handles.push({ key: 'spikeWidth', along: 'time', time: box.to, pressure: (box.low + box.high) / 2, of: 'box', valueAt: (t) => least(2 * (t - event.at)) });
  }
  for (const limit of planLimits) {
    const pressure = plan?.[limit];
    if (pressure !== undefined) handles.push({ key: `plan.${limit}`, along: 'pressure', time: cycle?.rising ?? 0, pressure, of: 'limit', valueAt: least });
  }
  return handles;
}
