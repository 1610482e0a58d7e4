/** Decisions on a measured value near a limit: JCGM 106:2012 and ILAC-G8:09/2019. */
import { normalCdf } from './statistics.js';

/** Limits of what is right; leave one out for a one-sided limit. Same unit as the value. */
export interface Tolerance {
  readonly lower?: number;
  readonly upper?: number;
}

/**
 * Where a value lies: `inside` and `outside` hold with the guard band, the other two are within it
 * (ILAC-G8:09/2019, 4.2.3, conditional pass and conditional fail).
 */
export type Conformity = 'inside' | 'barely-inside' | 'barely-outside' | 'outside';

/**
 * Compares a value with limits and a guard band of `coverage` x standard uncertainty on either side of each limit
 * (JCGM 106:2012, 8.3.2: A = T -+ U). A value equal to a limit, or to the edge of the guard band, is on the good side
 * of it. With uncertainty or coverage 0 this is the simple rule: the answer is `inside` or `outside`.
 * @param uncertainty standard uncertainty of `value`, 0 or more
 * @param coverage k; 2 for about 95 %
 */
export function conformity(value: number, limits: Tolerance, uncertainty: number, coverage = 2): Conformity {
  const { lower = -Infinity, upper = Infinity } = limits;
  const band = coverage * uncertainty;
  if (value >= lower + band && value <= upper - band) return 'inside';
  if (value >= lower && value <= upper) return 'barely-inside';
  // An edge of the band counts as outside for certain only beyond it, as with the limit itself.
  return value >= lower - band && value <= upper + band ? 'barely-outside' : 'outside';
}

/**
 * Probability that the true value lies within the limits, for a normal state of knowledge (JCGM 106:2012, 7.4 and 7.5).
 * @param uncertainty standard uncertainty of `value`, above 0
 */
export function conformanceProbability(value: number, limits: Tolerance, uncertainty: number): number {
  const { lower = -Infinity, upper = Infinity } = limits;
  return Math.max(0, normalCdf((upper - value) / uncertainty) - normalCdf((lower - value) / uncertainty));
}
