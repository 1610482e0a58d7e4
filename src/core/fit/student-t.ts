/** Student's t distribution, for degrees of freedom that need not be whole. */
import { normalQuantile } from './statistics.js';

/**
 * Logarithm of the gamma function for x > 0: Stirling's series (Abramowitz and Stegun 6.1.41) after moving x above 15
 * by the recurrence. Relative error below 1e-14.
 */
export function logGamma(x: number): number {
  let shift = 0;
  let z = x;
  for (; z < 15; z++) shift += Math.log(z);
  const w = 1 / (z * z);
  const series = (1 / 12 - w * (1 / 360 - w * (1 / 1260 - w * (1 / 1680 - w * (1 / 1188 - (w * 691) / 360360))))) / z;
  return (z - 0.5) * Math.log(z) - z + 0.5 * Math.log(2 * Math.PI) + series - shift;
}

/** Regularised incomplete beta function I_x(a, b), by the continued fraction of the NIST DLMF, 8.17.22 (Lentz's method). */
export function incompleteBeta(x: number, a: number, b: number): number {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  if (x > (a + 1) / (a + b + 2)) return 1 - incompleteBeta(1 - x, b, a);
  const front = Math.exp(logGamma(a + b) - logGamma(a) - logGamma(b) + a * Math.log(x) + b * Math.log1p(-x)) / a;
  const tiny = 1e-300;
  let c = 1;
  let d = 1 / (1 - ((a + b) * x) / (a + 1) || tiny);
  let value = d;
  for (let m = 1; m < 20_000; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / (1 + even * d || tiny);
    c = 1 + even / c || tiny;
    value *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / (1 + odd * d || tiny);
    c = 1 + odd / c || tiny;
    const change = d * c;
    value *= change;
    if (Math.abs(change - 1) < 1e-16) break;
  }
  return front * value;
}

/** Probability that a t value with `dof` (> 0, may be Infinity-like large) degrees of freedom is at most `t`. */
export function studentCdf(t: number, dof: number): number {
  const tail = 0.5 * incompleteBeta(dof / (dof + t * t), dof / 2, 0.5);
  return t > 0 ? 1 - tail : tail;
}

/**
 * The value that Student's t with `dof` (> 0) stays below with `probability`.
 * Newton from the normal quantile on the tail probability, with bisection as a safety net.
 */
export function studentQuantile(probability: number, dof: number): number {
  if (!(probability > 0 && probability < 1) || !(dof > 0)) return Number.NaN;
  if (probability === 0.5) return 0;
  if (probability < 0.5) return -studentQuantile(1 - probability, dof);
  const z = normalQuantile(probability);
  if (dof > 1e8) return z;
  const tail = 1 - probability;
  const logScale = logGamma((dof + 1) / 2) - logGamma(dof / 2) - 0.5 * Math.log(dof * Math.PI);
  let low = 0;
  let high = Infinity;
  let t = z;
  for (let step = 0; step < 200; step++) {
    const excess = 0.5 * incompleteBeta(dof / (dof + t * t), dof / 2, 0.5) - tail;
    if (excess > 0) low = t;
    else high = t;
    const slope = Math.exp(logScale - ((dof + 1) / 2) * Math.log1p((t * t) / dof));
    let next = t + excess / slope;
    if (!(next > low && next < high)) next = high === Infinity ? 2 * t : (low + high) / 2;
    if (Math.abs(next - t) <= 1e-14 * t) return next;
    t = next;
  }
  return t;
}
