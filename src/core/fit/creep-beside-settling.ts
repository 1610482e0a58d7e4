/**
 * A creep that goes with the logarithm of time beside a settling with one time constant: p(t) = a + b t - c log(t + t0) +
 * d exp(-t/tau), c > 0. A hose creeps, and the water in it gives its heat of compression away meanwhile: where neither
 * course alone follows the pressures, what the creep goes on to lose is part of every straight line.
 */
import { type Columns, pickColumns, tamePlaces } from './bins.js';
import { whiteNoise } from './correlated-noise.js';
import { type CreepCourse, creepInterval, hopelessChance, logOf } from './creep-course.js';
import { fewestBins } from './decay.js';
import { FitWindow, type TauRange } from './fit-window.js';
import { beyond, mostCorrelated } from './lack-of-fit.js';
import { fitLinear } from './linear-least-squares.js';
import { estimateNoise } from './noise-estimate.js';
import type { Answer } from './slope-answers.js';
import { searchTau } from './tau-search.js';

/** s: the early part of the creep is the exponential's to follow, so a rough t0 will do. */
const roughly = [1.4, 5];
const unknowns = 5;

/**
 * @param all bins of the whole window
 * @param leastChance a course that fits so poorly as this is none
 * @returns `null` where no creep is seen, or where the course does not follow the pressures
 */
export function creepBesideSettling(all: Columns, range: TauRange, leastChance: number): CreepCourse | null {
  const tame = tameWindow(all, range);
  if (tame === null) return null;
  const { window, t0, tau } = tame;
  const { n, time, ones, pressure, whitener, count } = window;
  const small = [ones, logOf(window, t0), ...window.exponentialPlane(tau), time];
  const further = [window.exponential(tau / 4), window.exponential(2.5 * tau)];
  if (beyond(window, small, further, mostCorrelated).chance < hopelessChance) return null;
  const noise = estimateNoise(whitener, small, pressure, count);
  const variance = Math.max(window.profile(small).rssAlone / (n - unknowns), window.leastVariance());
  const interval = creepInterval(roughly.flatMap((each) => answersWith(window, each, variance)), noise);
  return beyond(window, small, further, noise.place).chance < leastChance ? null : interval;
}

/** The window without bins that are wild beside the best course; `null` where its creep would raise the pressure. */
function tameWindow(all: Columns, range: TauRange): { readonly window: FitWindow; readonly t0: number; readonly tau: number } | null {
  let columns = all;
  for (let round = 0; ; round++) {
    const window = new FitWindow(columns, range);
    window.whitener.shape(whiteNoise);
    const { t0, best: { tau } } = roughly
      .map((each) => ({ t0: each, best: searchTau(profileWith(window, each), window.tauMin, window.tauMax, window.n - unknowns).best }))
      .reduce((a, b) => (b.best.rss < a.best.rss ? b : a));
    const fit = fitLinear([window.ones, window.time, logOf(window, t0), window.exponential(tau)], window.pressure, window.weight);
    if (fit === null || (fit.estimates[2] as number) >= 0) return null;
    const keep = round === 1 ? null : tamePlaces(fit.residuals, columns.weight);
    if (keep === null || keep.length < fewestBins) return { window, t0, tau };
    columns = pickColumns(columns, keep);
  }
}

const profileWith = (window: FitWindow, t0: number) => window.profile([window.ones, logOf(window, t0), window.time]);

/** What each time constant says of the slope, its own doubt and that of the exponential's size included. */
function answersWith(window: FitWindow, t0: number, variance: number): Answer[] {
  const profile = profileWith(window, t0);
  const { points } = searchTau(profile, window.tauMin, window.tauMax, window.n - unknowns);
  return points.flatMap(({ amplitude, overlap, information, rss }, i) => {
    const [before, after] = [points[Math.max(0, i - 1)], points[Math.min(points.length - 1, i + 1)]];
    const share = Math.log((after?.tau ?? 1) / (before?.tau ?? 1)) / 2;
    if (!(share > 0 && information > 0)) return [];
    return {
      mean: profile.slopeAlone - amplitude * overlap * profile.slopeScale,
      deviation: profile.slopeScale * Math.sqrt(variance) * Math.hypot(1, overlap / Math.sqrt(information)),
      logWeight: Math.log(share) - (0.5 * rss) / variance - 0.5 * Math.log(information),
    };
  });
}
