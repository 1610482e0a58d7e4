import { whiteNoise } from './correlated-noise.js';
import type { FitWindow } from './fit-window.js';
import { fitLinear } from './linear-least-squares.js';
import { searchTau } from './tau-search.js';

/** Most exponentials that a settling is taken apart into. */
const mostTerms = 3;

/**
 * Time constants (s) of as many exponentials as the settling needs, one to three. The first may have either sign; a
 * further one has to lower the pressure (a real settling is a sum of falling exponentials, so its course is hollow) and
 * to be plain: 4 sigma.
 * @param extra linear columns that are fitted as well, besides the straight line
 */
export function settlingTerms(window: FitWindow, extra: readonly Float64Array[]): number[] {
  const { n, ones, time, tauMin, tauMax, whitener } = window;
  whitener.shape(whiteNoise);
  let taus = [searchTau(window.profile([ones, ...extra, time]), tauMin, tauMax, n - 4).best.tau];
  while (taus.length < mostTerms) {
    const profile = window.profile([ones, ...extra, ...taus.map((tau) => window.exponential(tau)), time]);
    const { points } = searchTau(profile, tauMin, tauMax, n - 4);
    const falling = points.filter((p) => p.amplitude > 0);
    if (falling.length === 0) break;
    const next = falling.reduce((a, b) => (b.rss < a.rss ? b : a));
    if (profile.rssAlone - next.rss < (16 * next.rss) / n) break;
    taus = refined(window, extra, [...taus, next.tau]);
  }
  return taus;
}

/** Gauss-Newton steps on the logarithms of the time constants, each halved until it is less than a factor of 2. */
function refined(window: FitWindow, extra: readonly Float64Array[], start: readonly number[]): number[] {
  const { ones, time, pressure, weight, tauMin, tauMax } = window;
  let taus = [...start];
  let best = taus;
  let least = Infinity;
  for (let round = 0; round < 8; round++) {
    const planes = taus.flatMap((tau) => window.exponentialPlane(tau));
    const here = fitLinear([ones, ...extra, time, ...taus.map((_, k) => planes[2 * k] as Float64Array)], pressure, weight);
    if (here === null || here.rss >= least) break;
    const gained = least - here.rss;
    [best, least] = [taus, here.rss];
    const step = fitLinear([ones, ...extra, time, ...planes], pressure, weight);
    if (step === null || gained < 1e-6 * least) break;
    const first = 2 + extra.length;
    const moves = taus.map((_, k) => (step.estimates[first + 2 * k + 1] as number) / (here.estimates[first + k] as number));
    const damping = Math.min(1, Math.LN2 / Math.max(...moves.map(Math.abs)));
    if (!(damping > 0)) break;
    taus = taus.map((tau, k) => Math.min(tauMax, Math.max(tauMin, tau * Math.exp(damping * (moves[k] as number)))));
  }
  return best;
}
