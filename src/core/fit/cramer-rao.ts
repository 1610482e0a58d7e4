/** The smallest error that any unbiased estimate of the leak can have (Cramer 1946, 32.3; Rao 1945). */
import { fitLinear } from './linear-least-squares.js';
import { Whitener } from './correlated-noise.js';

/** The true course p = a + b t + c exp(-t/tau), t from the first sample, and its noise. */
export interface DecayTruth {
  /** Sample times, s, ascending. */
  readonly time: ArrayLike<number>;
  /** bar, standard deviation of the noise of a sample. */
  readonly sigma: number;
  /** s */ readonly tau: number;
  /** bar; where it is 0 tau means nothing and the bound is that of the other three unknowns. */
  readonly c: number;
  /** Correlation of neighbouring samples' noise (AR(1)), 0 to below 1; default 0. */
  readonly rho?: number;
}

/**
 * Lower bound of the standard error of the leak rate (bar/min) when a, b, c and tau are all unknown and the noise is
 * normal with known sigma and rho: the b element of the inverse Fisher information, J' K^-1 J.
 * NaN where the samples cannot tell the unknowns apart.
 */
export function leakRateBound({ time, sigma, tau, c, rho = 0 }: DecayTruth): number {
  const n = time.length;
  const t = Float64Array.from(time, (value) => value - (time[0] as number));
  const span = t[n - 1] ?? 0;
  const columns = [t.map(() => 1), t.map((value) => value / span), t.map((value) => Math.exp(-value / tau))];
  // d/dtau is c t/tau^2 exp(-t/tau); its size does not matter to b as long as it is not 0.
  if (c !== 0) columns.push(t.map((value) => (value / tau) * Math.exp(-value / tau)));
  const whitener = new Whitener(t, t.map(() => 1), span / (n - 1));
  if (!whitener.shape({ decay: rho, strength: 1 })) return Number.NaN;
  for (const column of columns) whitener.whiten(column, column);
  const fit = fitLinear(columns, new Float64Array(n));
  return fit === null ? Number.NaN : (60 * sigma * Math.sqrt(fit.unitCovariance[columns.length + 1] as number)) / span;
}
