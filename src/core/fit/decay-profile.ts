/**
 * The fit of some linear columns + c exp(-t/tau), one tau at a time (variable projection; Golub and Pereyra, SIAM
 * Journal on Numerical Analysis 10 (1973) 413): the linear columns are projected out once, each tau then costs one
 * pass over the bins and allocates nothing but its answer.
 */
import type { Whitener } from './correlated-noise.js';
import { columnBlock, dot, normalise, project } from './orthogonal.js';

/** What one tau gives. */
export interface ProfilePoint {
  /** s */ readonly tau: number;
  /** Whitened, weighted sum of squared residuals with c free. */
  readonly rss: number;
  /** c, bar */ readonly amplitude: number;
  /** Whitened squared length of what the exponential adds to the linear columns: variance of c is sigma^2 over it. */
  readonly information: number;
  /** Coefficient of the last linear column: slope = slopeAlone - amplitude x overlap x slopeScale. */
  readonly overlap: number;
}

export class DecayProfile {
  /** Whitened sum of squared residuals of the linear columns alone. */
  rssAlone = 0;
  /** Coefficient of the last linear column without the exponential, bar/s. */
  slopeAlone = 0;
  /** Its standard error for sigma = 1. */
  slopeScale = 0;
  private readonly basis: readonly Float64Array[];
  private readonly triangle: Float64Array;
  private readonly along: Float64Array;
  private readonly overlaps: Float64Array;
  private readonly rest: Float64Array;
  private readonly column: Float64Array;

  /**
   * @param time s from the first bin on, ascending
   * @param pressure bar, less a constant for the sake of digits
   * @param linear the linear columns, not whitened, the one whose coefficient is asked for last
   */
  constructor(
    private readonly time: Float64Array,
    private readonly pressure: Float64Array,
    private readonly linear: readonly Float64Array[],
    private readonly whitener: Whitener,
  ) {
    const n = time.length;
    const block = columnBlock(n, linear.length + 2);
    this.basis = block.slice(2);
    this.triangle = new Float64Array(linear.length ** 2);
    this.along = new Float64Array(linear.length);
    this.overlaps = new Float64Array(linear.length);
    this.rest = block[0] as Float64Array;
    this.column = block[1] as Float64Array;
  }

  /** Takes up the noise model that the whitener now has. */
  prepare(): void {
    const { basis, linear, triangle, along, rest, whitener } = this;
    const k = linear.length;
    whitener.whiten(this.pressure, rest);
    for (let j = 0; j < k; j++) {
      const q = basis[j] as Float64Array;
      whitener.whiten(linear[j] as Float64Array, q);
      for (let m = 0; m < j; m++) triangle[m * k + j] = project(basis[m] as Float64Array, q);
      triangle[j * k + j] = normalise(q);
      along[j] = project(q, rest);
    }
    // Once more, so that what is left of the pressures has no part along the columns but rounding.
    for (let j = 0; j < k; j++) along[j] = (along[j] as number) + project(basis[j] as Float64Array, rest);
    this.rssAlone = dot(rest, rest);
    this.slopeScale = 1 / (triangle[k * k - 1] as number);
    this.slopeAlone = (along[k - 1] as number) * this.slopeScale;
  }

  /** Best fit with this tau (s). */
  at(tau: number): ProfilePoint {
    const { column, rest, basis, overlaps } = this;
    this.whitenExponential(tau);
    let information = dot(column, column);
    const whole = information;
    for (let j = 0; j < basis.length; j++) {
      const part = dot(basis[j] as Float64Array, column);
      overlaps[j] = part;
      information -= part * part;
    }
    const overlap = overlaps[basis.length - 1] as number;
    if (!(information > 1e-12 * whole)) return { tau, rss: this.rssAlone, amplitude: 0, information: 0, overlap };
    const along = dot(column, rest);
    const amplitude = along / information;
    return { tau, rss: Math.max(0, this.rssAlone - along * amplitude), amplitude, information, overlap };
  }

  /** Coefficients of the linear columns that go with an amplitude c at this tau. */
  coefficients(tau: number, amplitude: number): Float64Array {
    const { column, basis, triangle, along } = this;
    const k = basis.length;
    this.whitenExponential(tau);
    const found = new Float64Array(k);
    for (let j = k - 1; j >= 0; j--) {
      let value = (along[j] as number) - amplitude * dot(basis[j] as Float64Array, column);
      for (let m = j + 1; m < k; m++) value -= (triangle[j * k + m] as number) * (found[m] as number);
      found[j] = value / (triangle[j * k + j] as number);
    }
    return found;
  }

  private whitenExponential(tau: number): void {
    const { column, time } = this;
    let value = 1;
    let last = 0;
    let lastGap = 0;
    let factor = 1;
    for (let i = 0; i < time.length; i++) {
      const now = time[i] as number;
      const gap = now - last;
      if (Math.abs(gap - lastGap) > 1e-9 * gap) {
        lastGap = gap;
        factor = Math.exp(-gap / tau);
      }
      value *= factor;
      last = now;
      column[i] = value;
    }
    this.whitener.whiten(column, column);
  }
}
