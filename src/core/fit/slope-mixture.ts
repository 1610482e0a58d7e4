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
import { type Answer, SlopeAnswers } from './slope-answers.js';

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
  const range = Math.log((points[points.length - 1] as ProfilePoint).tau / (points[0] as ProfilePoint).tau);
  const straight: Answer = { mean: profile.slopeAlone, deviation: Math.sqrt(variance) * profile.slopeScale, logWeight: (-0.5 * profile.rssAlone) / variance };
  const settled = points.map((point, i): Answer => {
    const measure = Math.log((points[i + 1] ?? point).tau / (points[i - 1] ?? point).tau) / 2 / range;
    const overlap2 = point.information > 0 ? point.overlap ** 2 / point.information : 0;
    return {
      mean: profile.slopeAlone - point.amplitude * point.overlap * profile.slopeScale,
      deviation: Math.sqrt(variance * (1 + overlap2)) * profile.slopeScale,
      logWeight: (-0.5 * point.rss) / variance + Math.log(measure) - 0.5 * Math.log1p(point.tau / span),
    };
  });
  const answers = new SlopeAnswers([straight, ...settled]);
  const slope = answers.quantile(0.5);
  return { slope, halfWidth: answers.reachAround(slope, 0.95), straight: answers.weights[0] as number };
}
