/**
 * What is known of the slope when tau is not known: each tau gives its own answer, and the answers are averaged with
 * the weight that the pressures give to that tau, next to the answer without any settling (Bayesian model averaging:
 * Hoeting, Madigan, Raftery, Volinsky, Statistical Science 14 (1999) 382).
 *
 * A tau weighs as much as its profile likelihood; log tau is even up to the length of the window and thins out as the
 * root of 1/tau beyond it; a course without settling has even odds. Being lenient to settling that cannot be seen keeps
 * the interval honest: a slow one in a short window looks like a leak. With settling plainly in sight none of this
 * matters, and the answer is that of nonlinear least squares with four unknowns.
 */
import type { DecayProfile, ProfilePoint } from './decay-profile.js';

export interface SlopeMixture {
  /** bar/s, the median of what is known. */ readonly slope: number;
  /** bar/s: `slope` +- this holds 95 % of what is known, for normal errors of known variance. */
  readonly halfWidth: number;
  /** Probability that a straight course explains it all. */
  readonly straight: number;
}

/**
 * @param points the profile, by tau
 * @param variance of the whitened errors, bar^2
 * @param span s, length of the window
 */
export function mixSlopes(profile: DecayProfile, points: readonly ProfilePoint[], variance: number, span: number): SlopeMixture {
  const size = points.length + 1;
  const means = new Float64Array(size);
  const deviations = new Float64Array(size);
  const weights = new Float64Array(size);
  const range = Math.log((points[points.length - 1] as ProfilePoint).tau / (points[0] as ProfilePoint).tau);

  means[0] = profile.slopeAlone;
  deviations[0] = Math.sqrt(variance) * profile.slopeScale;
  weights[0] = (-0.5 * profile.rssAlone) / variance;
  for (let i = 0; i < points.length; i++) {
    const point = points[i] as ProfilePoint;
    const measure = Math.log((points[i + 1] ?? point).tau / (points[i - 1] ?? point).tau) / 2 / range;
    const overlap2 = point.information > 0 ? point.overlap ** 2 / point.information : 0;
    means[i + 1] = profile.slopeAlone - point.amplitude * point.overlap * profile.slopeScale;
    deviations[i + 1] = Math.sqrt(variance * (1 + overlap2)) * profile.slopeScale;
    weights[i + 1] = (-0.5 * point.rss) / variance + Math.log(measure) - 0.5 * Math.log1p(point.tau / span);
  }

  let highest = -Infinity;
  for (const w of weights) highest = Math.max(highest, w);
  let sum = 0;
  for (let i = 0; i < size; i++) sum += weights[i] = Math.exp((weights[i] as number) - highest);
  const parts: number[] = [];
  for (let i = 0; i < size; i++) {
    weights[i] = (weights[i] as number) / sum;
    if ((weights[i] as number) > 1e-5) parts.push(i);
  }

  const below = (x: number): number =>
    parts.reduce((p, i) => p + (weights[i] as number) * quickNormalCdf((x - (means[i] as number)) / (deviations[i] as number)), 0);
  const reach = (centre: number): number =>
    Math.max(...parts.map((i) => Math.abs((means[i] as number) - centre) + 5 * (deviations[i] as number)));
  const start = means[parts[0] as number] as number;
  const slope = bisect((x) => below(x) - 0.5, start - reach(start), start + reach(start));
  const halfWidth = bisect((h) => below(slope + h) - below(slope - h) - 0.95, 0, reach(slope));
  return { slope, halfWidth, straight: weights[0] };
}

/** Root of a rising function. */
function bisect(f: (x: number) => number, from: number, to: number): number {
  let [low, high] = [from, to];
  for (let step = 0; step < 34; step++) {
    const middle = (low + high) / 2;
    if (f(middle) < 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Normal distribution to 7.5e-8: Abramowitz and Stegun 26.2.17. */
function quickNormalCdf(z: number): number {
  const t = 1 / (1 + 0.2316419 * Math.abs(z));
  const series = t * (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))));
  const tail = 0.3989422804014327 * Math.exp(-0.5 * z * z) * series;
  return z > 0 ? 1 - tail : tail;
}
