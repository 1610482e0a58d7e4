/**
 * The fit a + b t + c exp(-t/tau) for one tau at a time (variable projection; Golub and Pereyra, SIAM Journal on
 * Numerical Analysis 10 (1973) 413): the straight line is projected out once, each tau then costs one pass.
 */
import type { Whitener } from './correlated-noise.js';

/** What one tau gives. Times count from the first bin. */
export interface ProfilePoint {
  /** s */ readonly tau: number;
  /** Weighted, whitened sum of squared residuals with c free. */
  readonly rss: number;
  /** c, bar */ readonly amplitude: number;
  /** Whitened squared length of what the exponential adds to the straight line: variance of c is sigma^2 over it. */
  readonly information: number;
  /** Overlap of the exponential with the second line direction: db/dc = -overlap x slopeScale. */
  readonly overlap: number;
}

export class DecayProfile {
  /** Straight line alone. */
  lineRss = 0;
  lineSlope = 0;
  /** bar/s of slope for one unit along the second line direction; its square times sigma^2 is the line's variance. */
  slopeScale = 0;
  private along0 = 0;
  private meanShift = 0;
  private levelScale = 0;
  private readonly q0: Float64Array;
  private readonly q1: Float64Array;
  private readonly rest: Float64Array;
  private readonly column: Float64Array;
  private readonly decayed: Float64Array;

  /** @param time s from the first bin on, ascending; @param pressure bar, less a constant for the sake of digits */
  constructor(
    private readonly time: Float64Array,
    private readonly pressure: Float64Array,
    private readonly whitener: Whitener,
  ) {
    const n = time.length;
    this.q0 = new Float64Array(n);
    this.q1 = new Float64Array(n);
    this.rest = new Float64Array(n);
    this.column = new Float64Array(n);
    this.decayed = new Float64Array(n);
  }

  /** Takes up the noise model that the whitener now has. */
  prepare(): void {
    const { q0, q1, rest, time, pressure, whitener } = this;
    const n = time.length;
    q0.fill(1);
    whitener.whiten(q0, q0);
    whitener.whiten(time, q1);
    whitener.whiten(pressure, rest);
    const r00 = normalise(q0);
    const r01 = project(q0, q1);
    const r11 = normalise(q1);
    const y0 = project(q0, rest);
    const y1 = project(q1, rest);
    let rss = 0;
    for (let i = 0; i < n; i++) rss += (rest[i] as number) ** 2;
    this.lineRss = rss;
    this.slopeScale = 1 / r11;
    this.lineSlope = y1 / r11;
    this.meanShift = r01 / r00;
    this.levelScale = 1 / r00;
    this.along0 = y0;
  }

  /** Number of bins. */
  get size(): number {
    return this.time.length;
  }

  /** Best fit with this tau (s). */
  at(tau: number): ProfilePoint {
    const { column, rest } = this;
    const overlap = this.direction(tau);
    const n = column.length;
    let information = 0;
    let dot = 0;
    for (let i = 0; i < n; i++) {
      const x = column[i] as number;
      information += x * x;
      dot += x * (rest[i] as number);
    }
    const amplitude = information > 0 ? dot / information : 0;
    let rss = 0;
    for (let i = 0; i < n; i++) {
      const r = (rest[i] as number) - amplitude * (column[i] as number);
      rss += r * r;
    }
    return { tau, rss, amplitude, information, overlap };
  }

  /** Slope (bar/s) and level at the first bin (bar, constant left off) that go with an amplitude c at this tau. */
  line(tau: number, amplitude: number): { slope: number; level: number } {
    const { overlap0, overlap1 } = this.overlaps(tau);
    const slope = this.lineSlope - amplitude * overlap1 * this.slopeScale;
    const level = (this.along0 - amplitude * overlap0) * this.levelScale - this.meanShift * slope;
    return { slope, level };
  }

  /** Leaves in `column` what the exponential adds to the straight line; returns its overlap with the slope direction. */
  private direction(tau: number): number {
    const { column, q0, q1 } = this;
    this.exponential(tau);
    project(q0, column);
    return project(q1, column);
  }

  private overlaps(tau: number): { overlap0: number; overlap1: number } {
    this.exponential(tau);
    const overlap0 = project(this.q0, this.column);
    return { overlap0, overlap1: project(this.q1, this.column) };
  }

  private exponential(tau: number): void {
    const { decayed, time } = this;
    for (let i = 0; i < time.length; i++) decayed[i] = Math.exp(-(time[i] as number) / tau);
    this.whitener.whiten(decayed, this.column);
  }
}

/** Makes the length 1 and returns what it was. */
export function normalise(v: Float64Array): number {
  let square = 0;
  for (let i = 0; i < v.length; i++) square += (v[i] as number) ** 2;
  const length = Math.sqrt(square);
  if (length > 0) for (let i = 0; i < v.length; i++) v[i] = (v[i] as number) / length;
  return length;
}

/** Takes the part along the unit vector `q` out of `v` and returns how much it was. */
export function project(q: Float64Array, v: Float64Array): number {
  let dot = 0;
  for (let i = 0; i < v.length; i++) dot += (q[i] as number) * (v[i] as number);
  for (let i = 0; i < v.length; i++) v[i] = (v[i] as number) - dot * (q[i] as number);
  return dot;
}
