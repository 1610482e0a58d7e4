import { boundedMinimum } from './bounded-minimum.js';
import { type NoiseShape, shapeWithCorrelation, type Whitener } from './correlated-noise.js';
import { dot, orthonormal, project } from './orthogonal.js';

/** The noise around a linear model, and what not knowing it well does to the coefficient of the model's last column. */
export interface NoiseEstimate {
  readonly shape: NoiseShape;
  /** Correlation of neighbouring bins. */
  readonly correlation: number;
  /** Factor of the last coefficient's variance: its geometric mean over the likely correlations against that at the best. */
  readonly inflation: number;
  /** Degrees of freedom of that variance (Satterthwaite, Biometrics 2 (1946) 110). */
  readonly dof: number;
}

/** Largest correlation looked for, as its Fisher z: 0.995. */
const largestZ = 3;
const gridZ = [0, 0.08, 0.25, 0.5, 0.9, 1.4, 2, largestZ];

/**
 * Correlation of the noise around a linear model by restricted maximum likelihood (Harville, Journal of the American
 * Statistical Association 72 (1977) 320): unlike the correlation of the residuals it is not pulled to zero by the
 * columns that were fitted. Leaves the whitener with the shape found.
 * @param columns of the model, not whitened; the one whose coefficient matters last
 * @param count typical number of samples in a bin
 */
export function estimateNoise(
  whitener: Whitener,
  columns: readonly Float64Array[],
  pressure: Float64Array,
  count: number,
): NoiseEstimate {
  const n = pressure.length;
  const basis = orthonormal(columns);
  const k = basis.length;
  // The restricted likelihood does not change when a part along the columns is taken out of the data.
  const rest = Float64Array.from(pressure);
  for (const q of basis) project(q, rest);
  const gram = new RestrictedFit(whitener, basis, rest);

  const seen = new Map<number, { cost: number; variance: number }>();
  const at = (z: number): { cost: number; variance: number } => {
    const known = seen.get(z);
    if (known !== undefined) return known;
    const found = whitener.shape(shapeWithCorrelation(Math.tanh(z), count)) ? gram.evaluate() : { cost: Infinity, variance: Number.NaN };
    seen.set(z, found);
    return found;
  };

  let from = 0;
  for (let i = 1; i < gridZ.length && i <= from + 2; i++) {
    if (at(gridZ[i] as number).cost < at(gridZ[from] as number).cost) from = i;
  }
  const low = gridZ[Math.max(0, from - 1)] as number;
  const high = gridZ[Math.min(gridZ.length - 1, from + 1)] as number;
  let z = boundedMinimum((x) => at(x).cost, low, high, 0.1 / Math.sqrt(n));
  if (at(0).cost <= at(z).cost) z = 0;

  const spread = 1 / Math.sqrt(n - k);
  const step = Math.max(spread, deviationOf(at, z, spread));
  let total = 0;
  let meanLog = 0;
  let meanSquare = 0;
  const plain = at(z).variance;
  for (let j = -2; j <= 2; j++) {
    const x = z + 1.2 * j * step;
    if (x < 0 || x > largestZ) continue;
    const { cost, variance } = at(x);
    const weight = Math.exp((at(z).cost - cost) / 2);
    if (!(weight > 1e-6)) continue;
    const log = Math.log(variance / plain);
    total += weight;
    meanLog += weight * log;
    meanSquare += weight * log * log;
  }
  const doubt = total > 0 ? Math.max(0, meanSquare / total - (meanLog / total) ** 2) : 0;
  const shape = shapeWithCorrelation(Math.tanh(z), count);
  whitener.shape(shape);
  return {
    shape,
    correlation: Math.tanh(z),
    inflation: total > 0 ? Math.max(1, Math.exp(meanLog / total)) : 1,
    dof: 2 / (doubt + 2 / (n - k)),
  };
}

/** Standard deviation of z from the curvature of twice the negative log likelihood. */
function deviationOf(at: (z: number) => { cost: number }, z: number, spread: number): number {
  const left = Math.max(0, z - spread);
  const right = left + 2 * spread;
  const middle = left + spread;
  const curvature = (at(left).cost + at(right).cost - 2 * at(middle).cost) / (spread * spread);
  return curvature > 0 ? Math.min(1, Math.sqrt(2 / curvature)) : 1;
}

/** Restricted likelihood of one noise shape, from the whitened columns' scalar products (they start out orthonormal). */
class RestrictedFit {
  private readonly whitened: readonly Float64Array[];
  private readonly data: Float64Array;
  private readonly lower: Float64Array;
  private readonly along: Float64Array;

  constructor(
    private readonly whitener: Whitener,
    private readonly basis: readonly Float64Array[],
    private readonly rest: Float64Array,
  ) {
    this.whitened = basis.map((q) => new Float64Array(q.length));
    this.data = new Float64Array(rest.length);
    this.lower = new Float64Array(basis.length ** 2);
    this.along = new Float64Array(basis.length);
  }

  /** Twice the negative log likelihood up to a constant, and the variance of the last coefficient up to a factor. */
  evaluate(): { cost: number; variance: number } {
    const { whitener, basis, whitened, data, rest, lower, along } = this;
    const k = basis.length;
    const n = rest.length;
    basis.forEach((q, j) => whitener.whiten(q, whitened[j] as Float64Array));
    whitener.whiten(rest, data);
    let logDeterminant = whitener.logDeterminant;
    let rss = dot(data, data);
    for (let i = 0; i < k; i++) {
      for (let j = 0; j <= i; j++) {
        let sum = dot(whitened[i] as Float64Array, whitened[j] as Float64Array);
        for (let m = 0; m < j; m++) sum -= (lower[i * k + m] as number) * (lower[j * k + m] as number);
        lower[i * k + j] = i === j ? Math.sqrt(sum) : sum / (lower[j * k + j] as number);
      }
      let part = dot(whitened[i] as Float64Array, data);
      for (let m = 0; m < i; m++) part -= (lower[i * k + m] as number) * (along[m] as number);
      along[i] = part / (lower[i * k + i] as number);
      rss -= (along[i] as number) ** 2;
      logDeterminant += 2 * Math.log(lower[i * k + i] as number);
    }
    const variance = rss / (n - k) / (lower[k * k - 1] as number) ** 2;
    return { cost: (n - k) * Math.log(rss) + logDeterminant, variance };
  }
}
