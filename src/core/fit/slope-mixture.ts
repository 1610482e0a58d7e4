/**
 * What is known of the slope when tau is not known: each tau gives its own answer, and the answers are averaged with
 * the weight that the pressures give to that tau, next to the answer of a plain straight line (Hoeting, Madigan,
 * Raftery, Volinsky, Statistical Science 14 (1999) 382).
 */
import type { DecayProfile, ProfilePoint } from './decay-profile.js';
import { normalCdf } from './statistics.js';
import { studentQuantile } from './student-t.js';

export interface SlopeMixture {
  /** bar/s */ readonly slope: number;
  /** bar/s, half width of the 95 % interval around `slope`. */ readonly halfWidth: number;
  /** bar, at the most likely tau. */ readonly amplitude: number;
  readonly settlingSeen: boolean;
}

/**
 * @param points the profile, by tau
 * @param variance of the whitened errors, bar^2
 * @param dof degrees of freedom of `variance`
 * @param span s, length of the window
 */
export function mixtureOf(
  profile: DecayProfile,
  points: readonly ProfilePoint[],
  variance: number,
  dof: number,
  span: number,
): SlopeMixture {
  const best = points.reduce((a, b) => (b.rss < a.rss ? b : a));
  const lineVariance = variance * profile.slopeScale ** 2;
  // Settling and leak have no reason to cancel each other out: neither is far larger than what the pressure moved.
  const moved = movement(profile, best, span) + Math.sqrt(lineVariance) * span;

  const means: number[] = [profile.lineSlope];
  const deviations: number[] = [Math.sqrt(lineVariance)];
  const logWeights: number[] = [-0.5 * profile.lineRss / variance];
  const total = Math.log((points.at(-1) as ProfilePoint).tau / (points[0] as ProfilePoint).tau);
  let bestAmplitude = best.amplitude;
  points.forEach((point, i) => {
    const before = points[i - 1] ?? point;
    const after = points[i + 1] ?? point;
    const measure = Math.log(after.tau / before.tau) / 2 / total;
    const prior = (2 * moved) / -Math.expm1(-span / point.tau);
    const ratio = variance / (prior * prior);
    const information = point.information + ratio;
    const amplitude = (point.amplitude * point.information) / information;
    if (point === best) bestAmplitude = amplitude;
    const dot = point.amplitude * point.information;
    const gain = (dot * dot) / information;
    means.push(profile.lineSlope - amplitude * point.overlap * profile.slopeScale);
    deviations.push(Math.sqrt(variance * profile.slopeScale ** 2 * (1 + point.overlap ** 2 / information)));
    const rss = profile.lineRss - gain;
    // The residual pass is exact where the difference above has lost its digits.
    const exact = ratio < 1e-6 * point.information ? point.rss : Math.max(rss, point.rss);
    logWeights.push(-0.5 * exact / variance + 0.5 * Math.log(ratio / information) + Math.log(measure));
  });

  const highest = Math.max(...logWeights);
  let sum = 0;
  const weights = logWeights.map((w) => {
    const value = Math.exp(w - highest);
    sum += value;
    return value;
  });
  let slope = 0;
  weights.forEach((w, i) => (slope += (w / sum) * (means[i] as number)));
  const lineWeight = (weights[0] as number) / sum;

  const parts = weights.map((_, i) => i).filter((i) => (weights[i] as number) > 1e-5 * sum);
  const outside = (half: number): number => {
    let tail = 0;
    for (const i of parts) {
      const offset = (means[i] as number) - slope;
      const deviation = deviations[i] as number;
      tail += ((weights[i] as number) / sum) * (normalCdf((-half - offset) / deviation) + normalCdf((offset - half) / deviation));
    }
    return tail;
  };
  let low = 0;
  let high = Math.max(...parts.map((i) => Math.abs((means[i] as number) - slope) + 6 * (deviations[i] as number)));
  for (let step = 0; step < 40; step++) {
    const middle = (low + high) / 2;
    if (outside(middle) > 0.05) low = middle;
    else high = middle;
  }
  const stretch = studentQuantile(0.975, dof) / 1.959963984540054;
  return { slope, halfWidth: high * stretch, amplitude: bestAmplitude, settlingSeen: lineWeight < 0.05 };
}

/** bar, how far the fitted curve moves over the window. */
function movement(profile: DecayProfile, { tau, amplitude }: ProfilePoint, span: number): number {
  const { slope } = profile.line(tau, amplitude);
  let low = Infinity;
  let high = -Infinity;
  for (let k = 0; k <= 16; k++) {
    const t = (span * k * k) / 256;
    const p = slope * t + amplitude * Math.exp(-t / tau);
    low = Math.min(low, p);
    high = Math.max(high, p);
  }
  return high - low;
}
