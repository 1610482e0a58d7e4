import { normalQuantile } from '../core/fit/statistics.js';

/** A share of something counted, with its interval; all from 0 to 1. */
export interface Proportion {
  readonly share: number;
  readonly lower: number;
  readonly upper: number;
}

/**
 * Wilson's score interval of a proportion: it keeps its confidence with few trials and with shares near 0 and 1, where
 * the textbook interval does not (Wilson 1927; NIST/SEMATECH e-Handbook 7.2.4.1 recommends it).
 * @param successes whole, 0 ... `trials`. @param trials whole, 0 or more. @param confidence above 0, below 1
 * @returns `null` without trials: then nothing is known
 */
export function wilsonInterval(successes: number, trials: number, confidence = 0.95): Proportion | null {
  if (!(trials >= 0) || !(successes >= 0 && successes <= trials)) throw new RangeError(`${successes} of ${trials} is no proportion`);
  if (trials === 0) return null;
  const z = normalQuantile(1 - (1 - confidence) / 2);
  const share = successes / trials;
  const scale = 1 + (z * z) / trials;
  const centre = (share + (z * z) / (2 * trials)) / scale;
  const half = (z / scale) * Math.sqrt((share * (1 - share)) / trials + (z * z) / (4 * trials * trials));
  // Exactly at the ends, where rounding could leave a hair.
  return { share, lower: successes === 0 ? 0 : centre - half, upper: successes === trials ? 1 : centre + half };
}
