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
  /** Share of readings that repeat the one before, and repeats in a row up to now. */
  repeated: number;
  inRow: number;
  /** bar: the last change, and the mean size of those that went the other way than the one before. */
  last: number;
  turn: number;
  /** Share of the changes that another one follows at once, and whether the noise was learned anew since they no longer do. */
  followed: number;
  anew: boolean;
}

export const freshNoise = (): NoiseState => ({ scale: 0, count: 0, one: 0, two: 0, seen: 0, step: 0, raw: NaN, repeated: 0, inRow: 0, last: 0, turn: 0, followed: 0.5, anew: false });

/** E|d2| = 2 sigma sqrt(3/pi) for white Gaussian noise, less what is cut off above 3 x the scale (2 %). */
const perSigma = 2 * Math.sqrt(3 / Math.PI) * 0.98;
/** Samples that the first estimate is made of, and over which it forgets. */
const learning = 24;
const forget = 1 / 128;
/** How fast the scale may grow while every sample lies outside it. */
const creep = 1 / 400;

/** Share of repeats that chance does not make where a turn spans so many steps: where it spans 2.5, it makes a sixth. */
const manyRepeats = 0.4;
const wideTurn = 2.5;
/** Between readings that are each sent again no change ever follows another at once; chance often makes one follow. */
const neverFollows = 0.05;
/** Repeats in a row that a link which sends readings again makes; more of them are a reading that stands still. */
const longestRow = 8;

/**
 * Does the reading only say again what the one before said? A coarse instrument often shows one number twice, and that is
 * news; one whose readings else lie many steps apart and still often repeat, or never change twice in a row, comes twice over
 * the same link.
 */
export function isSentAgain(s: NoiseState): boolean {
  return s.inRow > 0 && s.inRow <= longestRow && comesAgain(s);
}

const comesAgain = (s: NoiseState): boolean =>
  s.repeated > manyRepeats && (s.turn >= wideTurn * s.step || (s.followed < neverFollows && s.repeated < longestRow / (longestRow + 1)));

/** Share of the readings that are news: of readings that are sent again a mean is no steadier than of those read. */
export const shareOfNews = (s: NoiseState): number => (comesAgain(s) ? 1 - s.repeated : 1);

function watchRepeats(s: NoiseState, pressure: number): void {
  if (s.seen === 0) return;
  const change = pressure - s.one;
  s.repeated += ((change === 0 ? 1 : 0) - s.repeated) / 64;
  if (s.inRow === 0) s.followed += ((change === 0 ? 0 : 1) - s.followed) / 16;
  s.inRow = change === 0 ? s.inRow + 1 : 0;
  if (change === 0) return;
  // Only noise turns back at nearly every other reading: how far apart the readings of a stroke lie says nothing of it.
  if (change * s.last < 0) s.turn += (Math.min(Math.abs(change), s.turn > 0 ? 3 * s.turn : Infinity) - s.turn) / (s.turn > 0 ? 16 : 1);
  s.last = change;
}

/** Takes one good sample in (bar). Of readings that are sent more than once only the first counts. */
export function learnNoise(s: NoiseState, pressure: number): void {
  watchRepeats(s, pressure);
  if (isSentAgain(s)) {
    // What was learned while the repeats counted is far too little.
    if (!s.anew) s.count = 0;
    s.anew = true;
    return;
  }
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
