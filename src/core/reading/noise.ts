/**
 * Scale of the white noise of a reading, from second differences: a straight run of any slope leaves only noise in
 * them. Samples that strokes or glitches threw far out hardly move it, so it keeps what quiet stretches taught.
 */
export interface NoiseState {
  /** bar; mean absolute second difference of quiet samples. */
  scale: number;
  count: number;
  one: number;
  two: number;
  seen: number;
  /** bar; smallest non-zero step between neighbours, 0 until one was seen. */
  step: number;
  /** bar, the newest reading of all; NaN before the first. */
  raw: number;
}

export const freshNoise = (): NoiseState => ({ scale: 0, count: 0, one: 0, two: 0, seen: 0, step: 0, raw: NaN });

/** E|d2| = 2 sigma sqrt(3/pi) for white Gaussian noise, less what is cut off above 3 x the scale (2 %). */
const perSigma = 2 * Math.sqrt(3 / Math.PI) * 0.98;
/** Samples that the first estimate is made of, and over which it forgets. */
const learning = 24;
const forget = 1 / 128;
/** How fast the scale may grow while every sample lies outside it. */
const creep = 1 / 400;

/** Takes one good sample in (bar). */
export function learnNoise(s: NoiseState, pressure: number): void {
  const d1 = pressure - s.one;
  const d2 = Math.abs(d1 - s.one + s.two);
  s.two = s.one;
  s.one = pressure;
  if (s.seen < 2) {
    s.seen++;
    return;
  }
  // A coarse reading often repeats itself: the first differences may all be 0, so a few of its steps always count.
  const most = Math.max(3 * s.scale, 2.5 * s.step);
  if (s.count < learning) {
    s.count++;
    // The smaller half counts more while learning: a rise that is under way must not pass for noise.
    s.scale = s.count === 1 ? d2 : s.scale + (Math.min(d2, most) - s.scale) / s.count;
    return;
  }
  if (d2 <= most) s.scale += forget * (d2 - s.scale);
  else s.scale += creep * s.scale + 1e-9;
}

/** Takes a reading (bar) as it came: the flicker of a coarse instrument looks like a glitch until its step is known. */
export function learnStep(s: NoiseState, pressure: number): void {
  const step = Math.abs(pressure - s.raw);
  // Steps below a micro-bar are what rounding in arithmetic leaves, not what an instrument shows.
  if (step > 1e-6 && (s.step === 0 || step < s.step)) s.step = step;
  s.raw = pressure;
}

/** Standard deviation of what moves from sample to sample, bar, without what rounding hides; 0 for frozen readings. */
export const movingSigma = (s: NoiseState): number => s.scale / perSigma;

/** Standard deviation of the white noise, bar; never below what rounding to the reading's own step makes. */
export function noiseSigma(s: NoiseState, resolution: number): number {
  return Math.max(s.scale / perSigma, resolution * 0.2887);
}
