/**
 * The settling as a creep that goes with the logarithm of time: p(t) = a + b t - c log(t + t0), c > 0, t0 about the time
 * since the pressure came up. Polymers creep so over decades of time (common practice). Within the noise of one hold it
 * looks much like an exponential that has nearly died away, and what it goes on to lose then looks like a leak.
 */
import { type Columns, pickColumns, tamePlaces } from './bins.js';
import { whiteNoise } from './correlated-noise.js';
import { fewestBins } from './decay.js';
import { FitWindow, type TauRange } from './fit-window.js';
import { beyond, mostCorrelated } from './lack-of-fit.js';
import { scanLog } from './log-scan.js';
import { fitLinear } from './linear-least-squares.js';
import { estimateNoise, type NoiseEstimate } from './noise-estimate.js';
import { type Answer, SlopeAnswers } from './slope-answers.js';
import { studentQuantile } from './student-t.js';

/** s: bounds of t0. */
const [soonest, latest] = [0.3, 15];
const steps = 6;
/** Tried at first, s. */
const roughly = [0.6, 1.4, 3.2, 7.5];

const z95 = 1.959963984540054;

/** Shares of t0 whose curves stand for what the course could not follow. */
const [quicker, slower] = [0.3, 6];

/** A creep that lowers the sum of squares by fewer variances than this is not seen, and no reason to think that it goes on. */
const plainly = 9;

/** Creep is passed over without the thorough estimate of the noise where even the most correlated one leaves no more chance than this. */
export const hopelessChance = 1e-4;

/** bar/min: 95 % of what the straight part loses lies between these where the settling is such a creep. */
export interface CreepCourse {
  readonly lowest: number;
  readonly highest: number;
}

interface Course {
  readonly rss: number;
  readonly t0: number;
  /** bar/s */ readonly slope: number;
  /** bar/s for a variance of 1 bar^2 */ readonly scale: number;
}

/**
 * @param all bins of the whole window
 * @param leastChance a course that fits so poorly as this is none
 * @returns `null` where no creep is seen, or where the course does not follow the pressures
 */
export function creepCourse(all: Columns, range: TauRange, leastChance: number): CreepCourse | null {
  const tame = tameWindow(all, range);
  if (tame === null) return null;
  const { window, t0 } = tame;
  const { n, time, ones, pressure, whitener, count } = window;
  const small = [ones, logOf(window, t0), time.map((t) => 1 / (t + t0)), time];
  const further = [logOf(window, quicker * t0), logOf(window, slower * t0)];
  if (beyond(window, small, further, mostCorrelated).chance < hopelessChance) return null;
  const noise = estimateNoise(whitener, small, pressure, count);
  const variance = Math.max(window.profile(small).rssAlone / (n - 4), window.leastVariance());
  const courses = scanLog((x) => courseOf(window, Math.exp(x)), Math.log(soonest), Math.log(latest), steps, variance);
  const interval = creepInterval(courses.map(({ found, share }) => ({
    mean: found.slope,
    deviation: found.scale * Math.sqrt(variance),
    logWeight: Math.log(share) - (0.5 * found.rss) / variance,
  })), noise);
  return beyond(window, small, further, noise.place).chance < leastChance ? null : interval;
}

/** 95 % of what the answers say, the doubt about the noise added. */
export function creepInterval(courses: readonly Answer[], noise: NoiseEstimate): CreepCourse {
  const answers = new SlopeAnswers(courses);
  const middle = answers.quantile(0.5);
  const stretch = (studentQuantile(0.975, noise.dof) / z95) * Math.sqrt(noise.inflation);
  return {
    lowest: -60 * (middle + stretch * (answers.quantile(0.975) - middle)),
    highest: -60 * (middle + stretch * (answers.quantile(0.025) - middle)),
  };
}

/** The window without bins that are wild beside the best creep; `null` where no creep is seen. */
function tameWindow(all: Columns, range: TauRange): { readonly window: FitWindow; readonly t0: number } | null {
  let columns = all;
  for (let round = 0; ; round++) {
    const window = new FitWindow(columns, range);
    window.whitener.shape(whiteNoise);
    const { t0, rss } = roughly.map((each) => courseOf(window, each)).reduce((a, b) => (b.rss < a.rss ? b : a));
    const straight = window.profile([window.ones, window.time]).rssAlone;
    const fit = fitLinear([window.ones, window.time, logOf(window, t0)], window.pressure, window.weight);
    // A course that would raise the pressure is no creep.
    if (fit === null || (fit.estimates[2] as number) >= 0 || straight - rss < (plainly * rss) / (window.n - 4)) return null;
    const keep = round === 2 ? null : tamePlaces(fit.residuals, columns.weight);
    if (keep === null || keep.length < fewestBins) return { window, t0 };
    columns = pickColumns(columns, keep);
  }
}

function courseOf(window: FitWindow, t0: number): Course {
  const { rssAlone, slopeAlone, slopeScale } = window.profile([window.ones, logOf(window, t0), window.time]);
  return { rss: rssAlone, t0, slope: slopeAlone, scale: slopeScale };
}

/** log(t + t0). */
export const logOf = ({ time }: FitWindow, t0: number): Float64Array => time.map((t) => Math.log(t + t0));
