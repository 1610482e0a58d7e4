import { boundedMinimum } from './bounded-minimum.js';
import { type NoiseShape, shapeWithCorrelation, type Whitener } from './correlated-noise.js';
import { orthonormal, project } from './orthogonal.js';

/** The noise around a linear model, and what not knowing it well does to the coefficient of the model's last column. */
export interface NoiseEstimate {
  readonly shape: NoiseShape;
  /** Correlation of neighbouring bins, -0.3 to below 1. */
  readonly correlation: number;
  /** Factor of the last coefficient's variance: its geometric mean over the likely noises against that at the best. */
  readonly inflation: number;
  /** Degrees of freedom of that variance (Satterthwaite, Biometrics 2 (1946) 110). */
  readonly dof: number;
  /** Where it was found. */
  readonly place: NoisePlace;
}

/** A noise: Fisher z of the correlated part's correlation from bin to bin, and the share of white noise beside it. */
export interface NoisePlace {
  readonly z: number;
  readonly whiteShare: number;
}

/** Largest correlation looked for, as its Fisher z: 0.995. */
const largestZ = 3;
const gridZ = [0.08, 0.25, 0.5, 0.9, 1.4, 2, largestZ];

/**
 * Smallest one, a little below 0: white noise is then taken for correlated no more often than for the contrary, and the
 * standard error is right on the mean.
 */
const smallestZ = -0.3;

/** Shares of white noise (of the variance) that are tried besides none: a transducer drifts slowly, its input is white. */
const whiteShares = [0.5, 0.8, 0.95];

/** What a share of white noise has to gain in twice the log likelihood to be believed, and its weight before that. */
const shareGain = 2;
const shareWeight = 0.15;

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
  const restricted = new RestrictedFit(whitener, columns, pressure, count);
  const { n, k } = restricted;
  const optima = [0, ...whiteShares].map((whiteShare) => {
    const likelihood = new Likelihood(restricted, whiteShare);
    const z = likelihood.likeliest(whiteShare === 0 ? smallestZ : 0, largestZ);
    return { likelihood, whiteShare, z, ...likelihood.at(z) };
  });
  const [plain, ...mixed] = optima;
  let best = plain as (typeof optima)[number];
  for (const other of mixed) if (other.cost < best.cost - (best === plain ? shareGain : 0)) best = other;

  const doubt = new LogMoments();
  const log = (variance: number): number => Math.log(variance / best.variance);
  const step = 1.2 * deviationOf(best.likelihood.at, best.z, 1 / Math.sqrt(n - k));
  for (let j = -2; j <= 2; j++) {
    const x = best.z + j * step;
    if (x < (best.whiteShare === 0 ? smallestZ : 0) || x > largestZ) continue;
    const { cost, variance } = best.likelihood.at(x);
    doubt.add(Math.exp((best.cost - cost) / 2), log(variance));
  }
  const whole = doubt.total;
  for (const other of optima) {
    if (other !== best) doubt.add(whole * (other === plain ? 1 : shareWeight) * Math.exp((best.cost - other.cost) / 2), log(other.variance));
  }
  return {
    shape: restricted.take(best),
    correlation: (1 - best.whiteShare) * Math.tanh(best.z),
    inflation: Math.exp(doubt.mean),
    dof: 2 / (doubt.variance + 2 / (n - k)),
    place: { z: best.z, whiteShare: best.whiteShare },
  };
}

/** As `estimateNoise` for a larger model, the shape alone: the share of white noise as it was, the correlation up to it. */
export function likeliestNoise(
  whitener: Whitener,
  columns: readonly Float64Array[],
  pressure: Float64Array,
  count: number,
  { z, whiteShare }: NoisePlace,
): NoiseShape {
  const restricted = new RestrictedFit(whitener, columns, pressure, count);
  const most = Math.min(largestZ, z + 1 / Math.sqrt(pressure.length));
  return restricted.take({ whiteShare, z: new Likelihood(restricted, whiteShare).likeliest(whiteShare === 0 ? smallestZ : 0, most) });
}

/** Mean and variance under weights; what is not finite or too light is passed over. */
class LogMoments {
  total = 0;
  private sum = 0;
  private square = 0;

  add(weight: number, value: number): void {
    if (!(weight > 1e-6) || !Number.isFinite(value)) return;
    this.total += weight;
    this.sum += weight * value;
    this.square += weight * value * value;
  }

  get mean(): number {
    return this.total > 0 ? this.sum / this.total : 0;
  }

  get variance(): number {
    return this.total > 0 ? Math.max(0, this.square / this.total - this.mean ** 2) : 0;
  }
}

interface Fitted {
  /** Twice the negative log likelihood, up to a constant. */
  readonly cost: number;
  /** Variance of the last coefficient, up to a factor. */
  readonly variance: number;
}

/** Restricted likelihood over z at one share of white noise; remembers what it has worked out. */
class Likelihood {
  private readonly seen = new Map<number, Fitted>();

  constructor(
    private readonly restricted: RestrictedFit,
    private readonly whiteShare: number,
  ) {}

  readonly at = (z: number): Fitted => {
    const known = this.seen.get(z);
    if (known !== undefined) return known;
    const found = this.restricted.at({ z, whiteShare: this.whiteShare });
    this.seen.set(z, found);
    return found;
  };

  /** Best z from `least` to `most`. */
  likeliest(least: number, most: number): number {
    const grid = least < 0 ? [least, -0.1] : [0];
    grid.push(...gridZ.filter((z) => z < most), Math.max(most, 0.02));
    let from = 0;
    for (let i = 1; i < grid.length && i <= from + 2; i++) {
      if (this.at(grid[i] as number).cost < this.at(grid[from] as number).cost) from = i;
    }
    if (least === 0 && from === 0) return 0;
    const low = grid[Math.max(0, from - 1)] as number;
    const high = grid[Math.min(grid.length - 1, from + 1)] as number;
    return boundedMinimum((x) => this.at(x).cost, low, high, 0.2 / Math.sqrt(this.restricted.n));
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

/** Restricted likelihood of one noise, from the scalar products of the whitened columns, which start out orthonormal. */
class RestrictedFit {
  readonly n: number;
  readonly k: number;
  /** The columns and, last, the data, as `Whitener.products` takes them. */
  private readonly rows: Float64Array;
  private readonly products: Float64Array;
  private readonly lower: Float64Array;
  private readonly along: Float64Array;

  constructor(
    private readonly whitener: Whitener,
    columns: readonly Float64Array[],
    pressure: Float64Array,
    private readonly count: number,
  ) {
    const basis = orthonormal(columns);
    this.n = pressure.length;
    this.k = basis.length;
    // The restricted likelihood does not change when a part along the columns is taken out of the data.
    const rest = Float64Array.from(pressure);
    for (const q of basis) project(q, rest);
    this.rows = whitener.rowsOf([...basis, rest]);
    this.products = new Float64Array((this.k + 1) ** 2);
    this.lower = new Float64Array(this.k ** 2);
    this.along = new Float64Array(this.k);
  }

  /** Leaves the whitener with the shape of this noise. */
  take({ z, whiteShare }: NoisePlace): NoiseShape {
    const { decay, strength } = shapeWithCorrelation(Math.tanh(z), this.count);
    const shape = { decay, strength: strength * (1 - whiteShare) };
    this.whitener.shape(shape);
    return shape;
  }

  at({ z, whiteShare }: NoisePlace): Fitted {
    const { decay, strength } = shapeWithCorrelation(Math.tanh(z), this.count);
    const possible = this.whitener.shape({ decay, strength: strength * (1 - whiteShare) });
    return possible ? this.evaluate() : { cost: Infinity, variance: Number.NaN };
  }

  private evaluate(): Fitted {
    const { whitener, products, lower, along, n, k } = this;
    const m = k + 1;
    whitener.products(this.rows, m, products);
    let logDeterminant = whitener.logDeterminant;
    let rss = products[m * m - 1] as number;
    for (let i = 0; i < k; i++) {
      for (let j = 0; j <= i; j++) {
        let sum = products[i * m + j] as number;
        for (let l = 0; l < j; l++) sum -= (lower[i * k + l] as number) * (lower[j * k + l] as number);
        lower[i * k + j] = i === j ? Math.sqrt(sum) : sum / (lower[j * k + j] as number);
      }
      let part = products[k * m + i] as number;
      for (let l = 0; l < i; l++) part -= (lower[i * k + l] as number) * (along[l] as number);
      along[i] = part / (lower[i * k + i] as number);
      rss -= (along[i] as number) ** 2;
      logDeterminant += 2 * Math.log(lower[i * k + i] as number);
    }
    const variance = rss / (n - k) / (lower[k * k - 1] as number) ** 2;
    return { cost: (n - k) * Math.log(rss) + logDeterminant, variance };
  }
}
