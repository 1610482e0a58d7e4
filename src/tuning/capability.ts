import { leakRateBound } from '../core/fit/cramer-rao.js';
import { normalQuantile } from '../core/fit/statistics.js';

/**
 * What a hold can tell. Assumptions, all of them stated to whoever reads the figures: pressure follows p = a + b t +
 * c exp(-t/tau) with a, b, c and tau unknown; the noise is normal and, from one reading to the next, correlated as an AR(1)
 * process; readings are evenly spaced; the fit reaches its bound. A real fit is a little worse, and a hose that creeps with
 * several time constants more so.
 */
export interface HoldConditions {
  /** bar, standard deviation of the noise of a reading. */
  readonly sigma: number;
  /** Correlation of the noise of neighbouring readings, 0 to below 1. */
  readonly rho: number;
  /** Hz */ readonly rate: number;
  /** bar, settling that is left when the watched time begins. */
  readonly settling: number;
  /** s, time constant of it. */
  readonly timeConstant: number;
  /** s that are watched before the hold begins: settling helps to tell its shape. Default 0. */
  readonly lead?: number;
  /** Absent where one exponential is all that settles. */
  readonly slow?: SlowDoubt;
}

/** What a settling too slow to be seen may be of a leak rate: less the longer one watches, as 1/time (creep that goes with the logarithm of time). */
export interface SlowDoubt {
  /** bar/min, standard error */ readonly error: number;
  /** s, after which it is that. */ readonly span: number;
}

/** Readings that the bound is worked out on; more are gathered into averages, which loses nothing that matters. */
const mostReadings = 1500;

/** bar/min: the least standard error that a leak rate can have after a hold of `hold` s (Cramer 1946, 32.3; Rao 1945), with the doubt about a slow settling added. */
export function leakError(hold: number, { sigma, rho, rate, settling, timeConstant, lead = 0, slow }: HoldConditions): number {
  const span = hold + lead;
  const readings = Math.max(8, Math.round(span * rate));
  const together = Math.ceil(readings / mostReadings);
  const n = Math.floor(readings / together);
  const step = together / rate;
  const average = averaged(sigma, rho, together);
  const bound = leakRateBound({ time: Float64Array.from({ length: n }, (_, i) => i * step), sigma: average.sigma, rho: average.rho, tau: timeConstant, c: settling });
  return slow === undefined ? bound : Math.hypot(bound, (slow.error * slow.span) / span);
}

/** Noise of the mean of `count` readings of AR(1) noise, and the correlation of neighbouring means. */
export function averaged(sigma: number, rho: number, count: number): { readonly sigma: number; readonly rho: number } {
  if (count <= 1) return { sigma, rho };
  if (rho <= 0) return { sigma: sigma / Math.sqrt(count), rho: 0 };
  // Sums of the correlations of an AR(1) process within one mean, and from one mean to the next.
  const within = count + (2 * rho * (count * (1 - rho) - (1 - rho ** count))) / (1 - rho) ** 2;
  const next = (rho * (1 - rho ** count) ** 2) / (1 - rho) ** 2;
  return { sigma: (sigma * Math.sqrt(within)) / count, rho: next / within };
}

/** How sure a leak must be told: false alarms and misses, one-sided. */
export interface Surety {
  /** Chance that a tight assembly seems to leak; default 2.5 %, as the rule on leaks has it. */
  readonly falseAlarm?: number;
  /** Chance that a leak of the size told is not seen; default 5 %. */
  readonly missed?: number;
}

const factorOf = ({ falseAlarm = 0.025, missed = 0.05 }: Surety): number => normalQuantile(1 - falseAlarm) + normalQuantile(1 - missed);

/** bar/min: the smallest leak that is told from settling after `hold` s; NaN where the readings cannot tell them apart. */
export const smallestLeak = (hold: number, conditions: HoldConditions, surety: Surety = {}): number => factorOf(surety) * leakError(hold, conditions);

/**
 * bar/min: the largest true leak of which a limit can still be shown to be kept, and the smallest that surely breaks it.
 * Between the two a run stays undecided often.
 */
export function limitZone(limit: number, hold: number, conditions: HoldConditions, surety: Surety = {}): { readonly passes: number; readonly fails: number } {
  const reach = smallestLeak(hold, conditions, surety);
  return { passes: Math.max(0, limit - reach), fails: limit + reach };
}

const longestHold = 86_400;

/** s: how long a hold must be so that a tight assembly keeps a leak limit (bar/min) for sure; `null` where a day is not enough. */
export function holdFor(limit: number, conditions: HoldConditions, surety: Surety = {}): number | null {
  const enough = (hold: number): boolean => smallestLeak(hold, conditions, surety) <= limit;
  if (!(limit > 0) || !enough(longestHold)) return null;
  let [low, high] = [Math.log(8 / conditions.rate), Math.log(longestHold)];
  for (let i = 0; i < 40 && high - low > 1e-4; i++) {
    const middle = (low + high) / 2;
    if (enough(Math.exp(middle))) high = middle;
    else low = middle;
  }
  return Math.exp(high);
}
