import { fitDecay, type DecayFit } from '../fit/decay.js';
import type { CycleRecord } from '../reading/cycle-record.js';

/** The leak of one hold: from settling and hold together, told apart by their shape. */
export interface CycleLeak {
  /** bar/min, positive when pressure is lost. */
  readonly rate: number;
  /** bar/min */ readonly standardError: number;
  /** bar */ readonly settling: number;
  /** s */ readonly timeConstant: number;
  /** s on the reader's clock; where the leak began in mid-hold. */
  readonly startedAt: number | null;
  readonly fit: DecayFit;
}

/** Fits the leak of a cycle; `null` where there was no hold, or too little of it. */
export function leakOfCycle(cycle: CycleRecord): CycleLeak | null {
  if (cycle.settled === null || cycle.fitTimes.length < 8) return null;
  const fit = fitDecay({ time: cycle.fitTimes, pressure: cycle.fitMeans, weight: cycle.fitCounts });
  if (fit === null) return null;
  return {
    rate: fit.leakRate,
    standardError: fit.standardError,
    settling: fit.settling,
    timeConstant: fit.timeConstant,
    startedAt: null,
    fit,
  };
}
