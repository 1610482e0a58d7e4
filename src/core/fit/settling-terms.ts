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
 * @param most terms at most
 */
export function settlingTerms(window: FitWindow, extra: readonly Float64Array[], most = mostTerms): number[] {
  const { n, ones, time, tauMin, tauMax, whitener } = window;
  whitener.shape(whiteNoise);
  let taus = [searchTau(window.profile([ones, ...extra, time]), tauMin, tauMax, n - 4).best.tau];
  while (taus.length < most) {
    const profile = window.profile([ones, ...extra, ...taus.map((tau) => window.exponential(tau)), time]);
    const { points } = searchTau(profile, tauMin, tauMax, n - 4);
    const falling = points.filter((p) => p.amplitude > 0);
    if (falling.length === 0) break;
    const next = falling.reduce((a, b) => (b.rss < a.rss ? b : a));
    if (profile.rssAlone - next.rss < (16 * next.rss) / n) break;
    const more = refined(window, extra, [...taus, next.tau]);
    if (!apart(more)) break;
    taus = more;
  }
  return taus;
}

/** Terms nearer than this are one term, and cannot be told apart in a fit. */
const apart = (taus: readonly number[]): boolean =>
  [...taus].sort((a, b) => a - b).every((tau, i, sorted) => i === 0 || tau > 1.3 * (sorted[i - 1] as number));

/** Gauss-Newton steps on the logarithms of the time constants; a step that makes the fit worse is halved. */
function refined(window: FitWindow, extra: readonly Float64Array[], start: readonly number[]): number[] {
  const { ones, time, pressure, weight, tauMin, tauMax } = window;
  const linear = [ones, ...extra, time];
  const held = (tau: number): number => Math.min(tauMax, Math.max(tauMin, tau));
  let best = [...start];
  let here = fitLinear([...linear, ...best.map((tau) => window.exponential(tau))], pressure, weight);
  for (let round = 0; round < 6 && here !== null; round++) {
    const { estimates, rss } = here;
    const step = fitLinear([...linear, ...best.flatMap((tau) => window.exponentialPlane(tau))], pressure, weight);
    if (step === null) break;
    const first = linear.length;
    const moves = best.map((_, k) => (step.estimates[first + 2 * k + 1] as number) / (estimates[first + k] as number));
    let damping = Math.min(1, Math.LN2 / Math.max(...moves.map(Math.abs)));
    let next: ReturnType<typeof fitLinear> = null;
    for (let halving = 0; halving < 4 && next === null && damping > 0; halving++, damping /= 2) {
      const taus = best.map((tau, k) => held(tau * Math.exp(damping * (moves[k] as number))));
      const tried = fitLinear([...linear, ...taus.map((tau) => window.exponential(tau))], pressure, weight);
      if (tried !== null && tried.rss < rss) [next, best] = [tried, taus];
    }
    if (next === null || rss - next.rss < 1e-6 * rss) break;
    here = next;
  }
  return best;
}
