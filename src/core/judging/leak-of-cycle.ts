import { fitDecayAdaptive } from '../fit/decay-adaptive.js';
import { findLeakOnset } from '../fit/leak-onset.js';
import type { CycleRecord } from '../reading/cycle-record.js';

/** The leak of one hold: from settling and hold together, told apart by their shape. */
export interface CycleLeak {
  /** bar/min, positive when pressure is lost. */
  readonly rate: number;
  /** bar/min; `rate` +- 1.96 of it is the 95 % interval. */
  readonly standardError: number;
  /** bar/min, with 95 % between these; not even around `rate` where a slow settling may be part of it. */
  readonly lowest: number;
  readonly highest: number;
  /** bar */ readonly settling: number;
  /** s */ readonly timeConstant: number;
  /** A settling too slow to be seen may be part of it. */
  readonly slow: boolean;
  /** s on the trace's clock; where the leak began in mid-hold. */
  readonly startedAt: number | null;
  /** The curve does not follow the pressure well: the rate may be off by more than its error. */
  readonly poorFit: boolean;
}

/** Fewest seconds of settling and hold that a leak is told from. */
const shortest = 5;

/**
 * Fits the leak of a cycle; `null` where there was no hold, or too little of it.
 * @param resolution bar, smallest step of the readings; 0 where not known
 * @param origin s, the zero of the fit's times on the trace's clock
 * @param leastGrowth bar/min; a leak that grew by less in mid-hold is not told apart from slow drift
 */
export function leakOfCycle(cycle: CycleRecord, resolution: number, origin: number, leastGrowth: number): CycleLeak | null {
  const n = cycle.fitTimes.length;
  if (cycle.settled === null || n < 8 || (cycle.fitTimes[n - 1] as number) - (cycle.fitTimes[0] as number) < shortest) return null;
  const bins = { time: cycle.fitTimes, pressure: cycle.fitMeans, weight: cycle.fitCounts };
  const fit = fitDecayAdaptive(bins, { resolution });
  if (fit === null) return null;
  const curve = { settling: fit.settling, timeConstant: fit.timeConstant };
  const onset = findLeakOnset(bins);
  if (onset === null || onset.growth < leastGrowth) {
    const { leakRate: rate, standardError, lowest, highest, hidden, lackOfFit } = fit;
    return { rate, standardError, lowest, highest, slow: hidden > 0, ...curve, startedAt: null, poorFit: lackOfFit.significant };
  }
  const { leakRate: rate, standardError } = onset;
  const half = 1.96 * standardError;
  return { rate, standardError, lowest: rate - half, highest: rate + half, slow: false, ...curve, startedAt: origin + onset.at, poorFit: false };
}
