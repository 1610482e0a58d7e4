import type { FitWindow } from './fit-window.js';
import { likeliestNoise, type NoisePlace } from './noise-estimate.js';
import { columnBlock, dot, orthonormal, project } from './orthogonal.js';
import { incompleteBeta } from './student-t.js';

/** The noise that excuses most of a poor fit. */
export const mostCorrelated: NoisePlace = { z: 3, whiteShare: 0 };

/** Does the window show more than one exponential and a straight line? */
export interface LackOfFit {
  /** F of two further exponentials, one quicker and one slower: about 1 when one is enough. */
  readonly ratio: number;
  /** Probability of such an F or a larger one by chance. */
  readonly chance: number;
  /** True when `chance` is below 0.1 %: the slope is then likely biased by what the curve cannot follow. */
  readonly significant: boolean;
}

/**
 * F test of two further exponentials (tau / 4 and 2.5 tau) next to the fit made linear around tau. The noise is
 * estimated with them in the model, so that a poor fit is not taken for correlated noise. Changes the whitener's shape.
 * @param noise as found without them: an upper bound of that with them
 */
export function lackOfFit(window: FitWindow, tau: number, noise: NoisePlace): LackOfFit {
  const { ones, time } = window;
  return beyond(window, [ones, time, ...window.exponentialPlane(tau)], [window.exponential(tau / 4), window.exponential(2.5 * tau)], noise);
}

/** The same test for any model: do the further columns say more than noise would? */
export function beyond(window: FitWindow, small: readonly Float64Array[], further: readonly Float64Array[], noise: NoisePlace): LackOfFit {
  const { n, pressure, whitener } = window;
  const large = orthonormal([...small, ...further]);
  const extra = large.length - orthonormal(small).length;
  if (extra < 1 || n - large.length < 2) return { ratio: 0, chance: 1, significant: false };
  likeliestNoise(whitener, large, pressure, window.count, noise);

  const [rest = new Float64Array(n), ...basis] = columnBlock(n, large.length + 1);
  large.forEach((column, j) => whitener.whiten(column, basis[j] as Float64Array));
  whitener.whiten(pressure, rest);
  const freed = orthonormal(basis);
  let gained = 0;
  freed.forEach((q, j) => {
    const part = project(q, rest);
    if (j >= freed.length - extra) gained += part * part;
  });
  const dof = n - freed.length;
  const ratio = gained / extra / (dot(rest, rest) / dof);
  const chance = Number.isFinite(ratio) ? incompleteBeta(dof / (dof + extra * ratio), dof / 2, extra / 2) : 1;
  return { ratio: Number.isFinite(ratio) ? ratio : 0, chance, significant: chance < 0.001 };
}
