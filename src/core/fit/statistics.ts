/** Small statistics that do not let a few wild values lead, and the normal distribution. */

/** 1 / (normal quantile of 0.75): makes the MAD of normal noise equal to its standard deviation. */
export const madToSigma = 1.482602218505602;

/** Which plotting position the quantile uses: Hyndman and Fan (1996), definitions 6, 7 and 8. */
export type QuantileRule = 'R6' | 'R7' | 'R8';

/**
 * Quantile of `values` at `probability` (0 to 1), straight lines between order statistics.
 * NaN for an empty list. Source: Hyndman and Fan, The American Statistician 50 (1996) 361.
 */
export function quantile(values: ArrayLike<number>, probability: number, rule: QuantileRule = 'R7'): number {
  return quantileOfSorted(Float64Array.from(values).sort(), probability, rule);
}

function quantileOfSorted(sorted: Float64Array, probability: number, rule: QuantileRule): number {
  const n = sorted.length;
  if (n === 0) return Number.NaN;
  const position =
    rule === 'R6' ? (n + 1) * probability : rule === 'R7' ? (n - 1) * probability + 1 : (n + 1 / 3) * probability + 1 / 3;
  const held = Math.min(n, Math.max(1, position));
  const below = Math.floor(held);
  const low = sorted[below - 1] ?? Number.NaN;
  const high = sorted[Math.min(n, below + 1) - 1] ?? low;
  return low + (held - below) * (high - low);
}

/** Middle value; the mean of the two middle ones for an even count; NaN for an empty list. */
export function median(values: ArrayLike<number>): number {
  return quantile(values, 0.5);
}

/** Median of the distances from `centre` (by default the median). NaN for an empty list. */
export function medianAbsoluteDeviation(values: ArrayLike<number>, centre: number = median(values)): number {
  const distances = Float64Array.from(values);
  for (let i = 0; i < distances.length; i++) distances[i] = Math.abs((distances[i] as number) - centre);
  return quantileOfSorted(distances.sort(), 0.5, 'R7');
}

/** Standard deviation of normal noise, from the MAD: half of the values may be wild. */
export function robustSigma(values: ArrayLike<number>, centre?: number): number {
  return madToSigma * medianAbsoluteDeviation(values, centre);
}

/**
 * Probability that a standard normal value is at most `z`.
 * Series (Marsaglia, Journal of Statistical Software 11 (2004) 4, eq. 1) near 0, the continued fraction of the
 * tail (Abramowitz and Stegun 26.2.14) beyond 3: relative error of the smaller tail below 1e-13.
 */
export function normalCdf(z: number): number {
  if (Number.isNaN(z)) return Number.NaN;
  if (Math.abs(z) > 3) return z > 0 ? 1 - upperTail(z) : upperTail(-z);
  let term = z;
  let sum = z;
  for (let k = 3; Math.abs(term) > 1e-17 * Math.abs(sum); k += 2) {
    term *= (z * z) / k;
    sum += term;
  }
  return 0.5 + sum * normalDensity(z);
}

const normalDensity = (z: number): number => Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI);

/** Upper tail for z > 3 by the continued fraction 1/(z + 1/(z + 2/(z + 3/(z + ...)))). */
function upperTail(z: number): number {
  if (z > 40) return 0;
  let fraction = z;
  for (let k = 80; k >= 1; k--) fraction = z + k / fraction;
  return normalDensity(z) / fraction;
}

/**
 * The value that a standard normal stays below with `probability`; +-Infinity at 1 and 0.
 * Rough start by Abramowitz and Stegun 26.2.23, then Halley steps on `normalCdf`.
 */
export function normalQuantile(probability: number): number {
  if (!(probability >= 0 && probability <= 1)) return Number.NaN;
  if (probability === 0) return -Infinity;
  if (probability === 1) return Infinity;
  if (probability > 0.5) return -normalQuantile(1 - probability);
  const t = Math.sqrt(-2 * Math.log(probability));
  let z = -(t - (2.515517 + t * (0.802853 + t * 0.010328)) / (1 + t * (1.432788 + t * (0.189269 + t * 0.001308))));
  for (let step = 0; step < 4; step++) {
    const u = (normalCdf(z) - probability) / normalDensity(z);
    z -= u / (1 + (z * u) / 2);
  }
  return z;
}
