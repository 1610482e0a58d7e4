/**
 * Does a stretch of readings look like noise laid over a level (a welder, a relay, a frequency converter), and not like
 * anything that pressure does?
 */
export interface NoiseShape {
  /** bar, r.m.s. */
  readonly scatter: number;
  /** bar, furthest from the level, with its sign, and its s. */
  readonly extreme: number;
  readonly at: number;
}

/** Fewest readings, and s, by which noise is told from a few leaps. */
const fewest = 6;
const shortest = 0.25;
/** It is so many times as strong as the noise of before, and so large a share of it stands out of that. */
export const stronger = 3;
const standsOut = 0.4;
/** Strokes and ringing die away, noise does not: least r.m.s. of its second half by that of its first. */
const lasting = 0.33;
/** Most by which it may reach further to one side than to the other. */
const oneSided = 4;
/** Standard errors by which its mean may lie off the level. */
const sure = 4;

/**
 * The shape of the readings `from` to `to` (indices, the last one not taken), `null` where they are no noise.
 * @param level bar, the course at a time (s)
 * @param sigma bar, noise of a reading before
 * @param slack bar, by which a level may change without having changed
 */
export function noiseShape(
  times: readonly number[], pressures: readonly number[], from: number, to: number, level: (time: number) => number, sigma: number, slack: number,
): NoiseShape | null {
  const n = to - from;
  if (n < fewest || (times[to - 1] as number) - (times[from] as number) < shortest) return null;
  const off = (i: number) => (pressures[i] as number) - level(times[i] as number);
  let sum = 0, early = 0, late = 0, highest = 0, lowest = 0, above = 0, out = 0, turns = 0, at = from;
  for (let i = from; i < to; i++) {
    const d = off(i);
    sum += d;
    if (i - from < n / 2) early += d * d;
    else late += d * d;
    if (d > 0) above++;
    if (Math.abs(d) > stronger * sigma) out++;
    if (d > highest) highest = d;
    if (d < lowest) lowest = d;
    if (Math.abs(d) > Math.abs(off(at))) at = i;
    if (i > from && i < to - 1 && ((pressures[i] as number) - (pressures[i - 1] as number)) * ((pressures[i + 1] as number) - (pressures[i] as number)) < 0) turns++;
  }
  const scatter = Math.sqrt((early + late) / n);
  if (scatter < stronger * sigma || out < standsOut * n) return null;
  if (late < lasting ** 2 * early) return null;
  if (highest > -oneSided * lowest || -lowest > oneSided * highest) return null;
  if (Math.abs(2 * above - n) > 3 * Math.sqrt(n)) return null;
  // Of white noise two readings in three are turns; what swings slower than it is sampled has far fewer.
  if (turns < Math.max(0.4, 2 / 3 - 1.5 / Math.sqrt(n)) * (n - 2)) return null;
  if (Math.abs(sum / n) > (sure * scatter) / Math.sqrt(n) + slack) return null;
  return { scatter, extreme: off(at), at: times[at] as number };
}
