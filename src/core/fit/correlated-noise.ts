import { columnBlock } from './orthogonal.js';

/**
 * Noise whose correlation dies away exponentially, possibly with white noise on top, seen through averaging bins.
 *
 * Model for the errors of the bins, each scaled by the root of its weight: variance 1, covariance of bins i < j
 * `strength` x product of the decays between them. A matrix of this kind has a Cholesky factor that costs O(n)
 * (Foreman-Mackey, Agol, Ambikasaran, Angus, Astronomical Journal 154 (2017) 220, section 5, one real term), for any
 * spacing of the bins.
 */
export interface NoiseShape {
  /** Correlation that is left after one typical bin spacing, 0 to below 1. */
  readonly decay: number;
  /** Factor before it: 1 for plain AR(1), below 1 with white noise on top, above 1 for bins averaged from AR(1). */
  readonly strength: number;
}

export const whiteNoise: NoiseShape = { decay: 0, strength: 1 };

type Six = [Float64Array, Float64Array, Float64Array, Float64Array, Float64Array, Float64Array];

/** Turns correlated, unequally weighted errors into white ones of equal variance. Keeps its arrays between calls. */
export class Whitener {
  /** log determinant of the correlation matrix. */
  logDeterminant = 0;
  private white = true;
  private readonly gap: Float64Array;
  private readonly rootWeight: Float64Array;
  /** Share of what is held that is expected in the next value, and that stays held after it. */
  private readonly pull: Float64Array;
  private readonly keep: Float64Array;
  private readonly gain: Float64Array;
  private readonly inverseRoot: Float64Array;

  /**
   * @param time s, ascending
   * @param weights 1/variance up to a common factor, 0 or more
   * @param spacing s, what `decay` refers to
   */
  constructor(time: Float64Array, weights: Float64Array, spacing: number) {
    const n = time.length;
    [this.rootWeight, this.gap, this.pull, this.keep, this.gain, this.inverseRoot] = columnBlock(n, 6) as Six;
    for (let i = 0; i < n; i++) {
      this.rootWeight[i] = Math.sqrt(weights[i] as number);
      if (i > 0) this.gap[i] = ((time[i] as number) - (time[i - 1] as number)) / spacing;
    }
  }

  /** Takes up a noise model; false where it is not a possible one (not positive definite). */
  shape({ decay, strength }: NoiseShape): boolean {
    const { gap, pull, keep, gain, inverseRoot } = this;
    const n = gap.length;
    this.white = !(decay > 0) || strength === 0;
    this.logDeterminant = 0;
    if (this.white) return true;
    const logDecay = Math.log(decay);
    let held = 0;
    let lastGap = 1;
    let carry = decay;
    let determinant = 1;
    for (let i = 0; i < n; i++) {
      const step = gap[i] as number;
      const even = Math.abs(step - lastGap) <= 1e-9;
      if (!even) {
        lastGap = step;
        carry = Math.exp(logDecay * step);
      }
      const before = held;
      held *= carry * carry;
      const variance = 1 - strength * strength * held;
      if (!(variance > 1e-9)) return false;
      const share = (1 - strength * held) / variance;
      gain[i] = share;
      pull[i] = strength * carry;
      keep[i] = carry * (1 - strength * share);
      held += variance * share * share;
      inverseRoot[i] = 1 / Math.sqrt(variance);
      determinant *= variance;
      if (determinant < 1e-200) {
        this.logDeterminant += Math.log(determinant);
        determinant = 1;
      }
      if (!even || Math.abs(held - before) > 1e-15 * held) continue;
      // From here on nothing changes as long as the bins are evenly spaced.
      const settled = i;
      while (i + 1 < n && Math.abs((gap[i + 1] as number) - lastGap) <= 1e-9) i++;
      for (const values of [gain, pull, keep, inverseRoot]) values.fill(values[settled] as number, settled + 1, i + 1);
      this.logDeterminant += (i - settled) * Math.log(variance);
    }
    this.logDeterminant += Math.log(determinant);
    return true;
  }

  /** Writes the whitened, weighted `column` into `out` (which may be the same array). */
  whiten(column: Float64Array, out: Float64Array): void {
    const { rootWeight, pull, keep, gain, inverseRoot } = this;
    const n = rootWeight.length;
    if (this.white) {
      for (let i = 0; i < n; i++) out[i] = (column[i] as number) * (rootWeight[i] as number);
      return;
    }
    let held = 0;
    for (let i = 0; i < n; i++) {
      const value = (column[i] as number) * (rootWeight[i] as number);
      out[i] = (value - (pull[i] as number) * held) * (inverseRoot[i] as number);
      held = held * (keep[i] as number) + (gain[i] as number) * value;
    }
  }

  /** The columns one beside the other, row by row and weighted, as `products` takes them. */
  rowsOf(columns: readonly Float64Array[]): Float64Array {
    const m = columns.length;
    const rows = new Float64Array(this.rootWeight.length * m);
    columns.forEach((column, j) => {
      for (let i = 0; i < column.length; i++) rows[i * m + j] = (column[i] as number) * (this.rootWeight[i] as number);
    });
    return rows;
  }

  /**
   * Scalar products of all pairs of whitened columns, in one pass and without keeping the columns.
   * @param rows see `rowsOf`
   * @param out m x m, the lower triangle is written
   */
  products(rows: Float64Array, m: number, out: Float64Array): void {
    const { pull, keep, gain, inverseRoot, white } = this;
    const n = this.rootWeight.length;
    const held = new Float64Array(m);
    // Four rows at a time: a sum is then fetched and put back a quarter as often.
    const four = new Float64Array(4 * m);
    out.fill(0);
    for (let first = 0; first < n; first += 4) {
      const end = Math.min(n, first + 4);
      if (end < first + 4) four.fill(0);
      for (let i = first, to = 0; i < end; i++, to += m) {
        const at = i * m;
        if (white) {
          for (let j = 0; j < m; j++) four[to + j] = rows[at + j] as number;
          continue;
        }
        const pulled = pull[i] as number;
        const kept = keep[i] as number;
        const gained = gain[i] as number;
        const root = inverseRoot[i] as number;
        for (let j = 0; j < m; j++) {
          const value = rows[at + j] as number;
          const before = held[j] as number;
          four[to + j] = (value - pulled * before) * root;
          held[j] = before * kept + gained * value;
        }
      }
      for (let j = 0, cell = 0; j < m; j++, cell += m) {
        const a = four[j] as number;
        const b = four[m + j] as number;
        const c = four[2 * m + j] as number;
        const d = four[3 * m + j] as number;
        for (let k = 0; k <= j; k++) {
          const more = a * (four[k] as number) + b * (four[m + k] as number) + (c * (four[2 * m + k] as number) + d * (four[3 * m + k] as number));
          out[cell + k] = (out[cell + k] as number) + more;
        }
      }
    }
  }
}

/**
 * How noise that is AR(1) from sample to sample looks after averaging `count` neighbours into a bin, for bins that
 * touch: sums of the covariances rho^|i - j| over one bin and over two neighbours.
 * @param decay correlation left after `count` samples, 0 to below 1
 */
export function binnedShape(decay: number, count: number): NoiseShape {
  if (!(decay > 0)) return whiteNoise;
  const rho = decay ** (1 / count);
  const varianceSum = (count * (1 - rho * rho) - 2 * rho * (1 - decay)) / (1 - rho) ** 2;
  const neighbourSum = rho * ((1 - decay) / (1 - rho)) ** 2;
  return { decay, strength: neighbourSum / (varianceSum * decay) };
}

/** Decay that goes with a correlation below 0: nearly gone after the next bin. */
const negativeDecay = 0.05;

/**
 * The shape of averaged AR(1) noise whose neighbouring bins correlate by `lagOne` (-0.4 to 0.999). Below 0 there is no
 * such noise; a shape that reaches only the next bin is given.
 */
export function shapeWithCorrelation(lagOne: number, count: number): NoiseShape {
  if (lagOne === 0) return whiteNoise;
  if (lagOne < 0) return { decay: negativeDecay, strength: lagOne / negativeDecay };
  if (count <= 1) return { decay: lagOne, strength: 1 };
  // Over the logarithm of the time constant the logit of the correlation is nearly a straight line: false position
  // (Illinois: Dowell and Jarratt, BIT 11 (1971) 168) is there in a few steps.
  const wanted = logit(lagOne);
  const excess = (x: number): number => {
    const { decay, strength } = binnedShape(Math.exp(-Math.exp(x)), count);
    return logit(decay * strength) - wanted;
  };
  let [low, high] = [Math.log(5e-4), Math.log(700)];
  let [over, under] = [excess(low), excess(high)];
  // So little of it is not to be had from averages of so many.
  if (under >= 0) return binnedShape(Math.exp(-700), count);
  let side = 0;
  for (let step = 0; step < 40 && high - low > 1e-13; step++) {
    const x = (low * under - high * over) / (under - over);
    const found = excess(x);
    if (Math.abs(found) < 1e-12 || !(x > low && x < high)) return binnedShape(Math.exp(-Math.exp(x)), count);
    if (found > 0) {
      [low, over] = [x, found];
      if (side > 0) under /= 2;
      side = 1;
    } else {
      [high, under] = [x, found];
      if (side < 0) over /= 2;
      side = -1;
    }
  }
  return binnedShape(Math.exp(-Math.exp((low + high) / 2)), count);
}

const logit = (p: number): number => Math.log(p / (1 - p));
