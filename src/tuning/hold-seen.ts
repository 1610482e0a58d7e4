import { fitDecayAdaptive } from '../core/fit/decay-adaptive.js';
import { median } from '../core/fit/statistics.js';
import type { CycleRecord } from '../core/reading/cycle-record.js';
import { leakError, type HoldConditions, type SlowDoubt } from './capability.js';

/** How well a leak is told from settling in one recorded hold. */
export interface HoldSeen {
  /** s, from the start of the hold to its end. */
  readonly hold: number;
  /** Noise and settling as the readings show them. */
  readonly conditions: HoldConditions;
  /** bar/min, as the fit states it. */
  readonly standardError: number;
  /** How many times the bound for these conditions that is, but for what a slow settling may hide. */
  readonly overBound: number;
  /** What a settling too slow to be seen adds to it. */
  readonly slow: SlowDoubt;
  /** False where no settling stands out: then its time constant is a guess. */
  readonly settlingSeen: boolean;
  /** s between two readings, as they came. */
  readonly interval: number;
}

/** Fewest averages that noise is measured on. */
const fewest = 20;

/**
 * Measures a hold, `null` where there was none that was done. The fit works on averages of readings; noise, correlation and
 * rate are those of the averages.
 */
export function holdSeen({ settled, holdEnd, holdDone, fitTimes, fitMeans, fitCounts, interval, topUps }: CycleRecord): HoldSeen | null {
  if (settled === null || holdEnd === null || !holdDone || topUps.length > 0 || fitTimes.length < fewest) return null;
  const fit = fitDecayAdaptive({ time: fitTimes, pressure: fitMeans, weight: fitCounts });
  if (fit === null || !(fit.noise > 0)) return null;
  const used = fitTimes.filter((time) => time >= fit.origin - 1e-9);
  const spacing = median(used.slice(1).map((time, i) => time - (used[i] ?? 0)));
  const hold = holdEnd - settled;
  const span = fit.end - fit.origin;
  const conditions: HoldConditions = {
    sigma: fit.noise / Math.sqrt(median(fitCounts)),
    rho: Math.max(0, fit.correlation),
    rate: 1 / spacing,
    // The size of what settles does not matter, only that it is there; where none stands out, a quick one may hide.
    settling: fit.settlingSeen ? fit.settling : 1,
    timeConstant: fit.settlingSeen ? fit.timeConstant : span / 10,
    lead: Math.max(0, span - hold),
  };
  const bound = leakError(hold, conditions);
  const ofNoise = Math.sqrt(fit.standardError ** 2 - fit.hidden ** 2);
  return { hold, conditions, standardError: fit.standardError, overBound: ofNoise / bound, slow: { error: fit.hidden, span }, settlingSeen: fit.settlingSeen, interval };
}
