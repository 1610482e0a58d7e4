import { boundedMinimum } from './bounded-minimum.js';
import { type NoiseShape, shapeWithCorrelation, type Whitener } from './correlated-noise.js';
import { columnBlock, dot, orthonormal, project } from './orthogonal.js';

/** The noise around a linear model, and what not knowing it well does to the coefficient of the model's last column. */
export interface NoiseEstimate {
  readonly shape: NoiseShape;
  /** Correlation of neighbouring bins, -0.3 to below 1. */
  readonly correlation: number;
  /** Factor of the last coefficient's variance: its geometric mean over the likely correlations against that at the best. */
  readonly inflation: number;
  /** Degrees of freedom of that variance (Satterthwaite, Biometrics 2 (1946) 110). */
  readonly dof: number;
}

/** Largest correlation looked for, as its Fisher z: 0.995. */
const largestZ = 3;
const gridZ = [0.08, 0.25, 0.5, 0.9, 1.4, 2, largestZ];

/**
 * Smallest one, a little below 0: white noise is then taken for correlated no more often than for the contrary, and the
 * standard error is right on the mean.
 */
const smallestZ = -0.3;

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
  const likelihood = new Likelihood(whitener, columns, pressure, count);
  const { n, k } = likelihood;
  const z = likelihood.likeliest(largestZ);
  const at = likelihood.at;
  const { cost: least, variance: plain } = at(z);

  const step = 1.2 * deviationOf(at, z, 1 / Math.sqrt(n - k));
  let total = 0;
  let meanLog = 0;
  let meanSquare = 0;
  for (let j = -2; j <= 2; j++) {
    const x = z + j * step;
    if (x < smallestZ || x > largestZ) continue;
    const { cost, variance } = at(x);
    const weight = Math.exp((least - cost) / 2);
    if (!(weight > 1e-6)) continue;
    const log = Math.log(variance / plain);
    total += weight;
    meanLog += weight * log;
    meanSquare += weight * log * log;
  }
  const sure = !(total > 0);
  const doubt = sure ? 0 : Math.max(0, meanSquare / total - (meanLog / total) ** 2);
  return {
    shape: likelihood.take(z),
    correlation: Math.tanh(z),
    inflation: sure ? 1 : Math.exp(meanLog / total),
    dof: 2 / (doubt + 2 / (n - k)),
  };
}

/** As `estimateNoise`, the shape alone; `most` is a correlation that it will not exceed by much. */
export function likeliestNoise(
  whitener: Whitener,
  columns: readonly Float64Array[],
  pressure: Float64Array,
  count: number,
  most: number,
): NoiseShape {
  const likelihood = new Likelihood(whitener, columns, pressure, count);
  return likelihood.take(likelihood.likeliest(Math.min(largestZ, Math.atanh(most) + 1 / Math.sqrt(pressure.length))));
}

interface Fitted {
  /** Twice the negative log likelihood, up to a constant. */
  readonly cost: number;
  /** Variance of the last coefficient, up to a factor. */
  readonly variance: number;
}

/** Restricted likelihood over the Fisher z of the correlation of neighbouring bins; remembers what it has worked out. */
class Likelihood {
  readonly n: number;
  readonly k: number;
  private readonly restricted: RestrictedFit;
  private readonly seen = new Map<number, Fitted>();

  constructor(
    private readonly whitener: Whitener,
    columns: readonly Float64Array[],
    pressure: Float64Array,
    private readonly count: number,
  ) {
    const basis = orthonormal(columns);
    // The restricted likelihood does not change when a part along the columns is taken out of the data.
    const rest = Float64Array.from(pressure);
    for (const q of basis) project(q, rest);
    this.n = pressure.length;
    this.k = basis.length;
    this.restricted = new RestrictedFit(whitener, basis, rest);
  }

  readonly at = (z: number): Fitted => {
    const known = this.seen.get(z);
    if (known !== undefined) return known;
    const possible = this.whitener.shape(shapeWithCorrelation(Math.tanh(z), this.count));
    const found = possible ? this.restricted.evaluate() : { cost: Infinity, variance: Number.NaN };
    this.seen.set(z, found);
    return found;
  };

  /** Best z up to `most`. */
  likeliest(most: number): number {
    const grid = [smallestZ, -0.1, ...gridZ.filter((z) => z < most), Math.max(most, 0)];
    let from = 0;
    for (let i = 1; i < grid.length && i <= from + 2; i++) {
      if (this.at(grid[i] as number).cost < this.at(grid[from] as number).cost) from = i;
    }
    const low = grid[Math.max(0, from - 1)] as number;
    const high = grid[Math.min(grid.length - 1, from + 1)] as number;
    return boundedMinimum((x) => this.at(x).cost, low, high, 0.1 / Math.sqrt(this.n));
  }

  /** Leaves the whitener with the shape of this z. */
  take(z: number): NoiseShape {
    const shape = shapeWithCorrelation(Math.tanh(z), this.count);
    this.whitener.shape(shape);
    return shape;
  }
}

/** Standard deviation of z from the curvature of twice the negative log likelihood. */
function deviationOf(at: (z: number) => { cost: number }, z: number, spread: number): number {
  const left = Math.max(smallestZ, z - spread);
  const right = left + 2 * spread;
  const middle = left + spread;
  const curvature = (at(left).cost + at(right).cost - 2 * at(middle).cost) / (spread * spread);
  return curvature > 0 ? Math.max(spread, Math.min(1, Math.sqrt(2 / curvature))) : 1;
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
    const block = columnBlock(rest.length, basis.length + 1);
    this.data = block[0] as Float64Array;
    this.whitened = block.slice(1);
    this.lower = new Float64Array(basis.length ** 2);
    this.along = new Float64Array(basis.length);
  }

  evaluate(): Fitted {
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
