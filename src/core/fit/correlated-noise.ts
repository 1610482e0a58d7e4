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
   * @param weights 1/variance up to a common factor, 0 or more; may be changed in place before the next `shape`
   * @param spacing s, what `decay` refers to
   */
  constructor(
    time: Float64Array,
    private readonly weights: Float64Array,
    spacing: number,
  ) {
    const n = time.length;
    [this.rootWeight, this.gap, this.pull, this.keep, this.gain, this.inverseRoot] = columnBlock(n, 6) as Six;
    for (let i = 1; i < n; i++) this.gap[i] = ((time[i] as number) - (time[i - 1] as number)) / spacing;
  }

  /** Takes up a noise model; false where it is not a possible one (not positive definite). */
  shape({ decay, strength }: NoiseShape): boolean {
    const { rootWeight, gap, pull, keep, gain, inverseRoot, weights } = this;
    const n = weights.length;
    this.white = !(decay > 0) || strength === 0;
    this.logDeterminant = 0;
    const logDecay = Math.log(decay);
    let held = 0;
    let lastGap = 1;
    let lastCarry = decay;
    let determinant = 1;
    for (let i = 0; i < n; i++) {
      rootWeight[i] = Math.sqrt(weights[i] as number);
      inverseRoot[i] = 1;
      if (this.white) continue;
      const step = gap[i] as number;
      if (Math.abs(step - lastGap) > 1e-9) {
        lastGap = step;
        lastCarry = Math.exp(logDecay * step);
      }
      held *= lastCarry * lastCarry;
      const variance = 1 - strength * strength * held;
      if (!(variance > 1e-9)) return false;
      const share = (1 - strength * held) / variance;
      gain[i] = share;
      pull[i] = strength * lastCarry;
      keep[i] = lastCarry * (1 - strength * share);
      held += variance * share * share;
      inverseRoot[i] = 1 / Math.sqrt(variance);
      determinant *= variance;
      if (determinant < 1e-200) {
        this.logDeterminant += Math.log(determinant);
        determinant = 1;
      }
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
 * The shape of averaged AR(1) noise whose neighbouring bins correlate by `lagOne` (-0.4 to below 1). Below 0 there is no
 * such noise; a shape that reaches only the next bin is given.
 */
export function shapeWithCorrelation(lagOne: number, count: number): NoiseShape {
  if (lagOne === 0) return whiteNoise;
  if (lagOne < 0) return { decay: negativeDecay, strength: lagOne / negativeDecay };
  if (count <= 1) return { decay: lagOne, strength: 1 };
  let low = -700;
  let high = -1e-6;
  for (let step = 0; step < 40; step++) {
    const middle = (low + high) / 2;
    const { decay, strength } = binnedShape(Math.exp(middle), count);
    if (decay * strength < lagOne) low = middle;
    else high = middle;
  }
  return binnedShape(Math.exp((low + high) / 2), count);
}
