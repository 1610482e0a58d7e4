import type { Columns } from './bins.js';
import { Whitener } from './correlated-noise.js';
import { DecayProfile } from './decay-profile.js';
import { columnBlock } from './orthogonal.js';
import { median } from './statistics.js';

/** Bounds of the settling that is looked for. */
export interface TauRange {
  /** s, shortest; default twice the bin spacing. */
  readonly tauMin?: number;
  /** s, longest: what is slower counts as leak; default 120 s, or the window where that is longer. */
  readonly tauMax?: number;
}

/** Columns moved to time 0 and pressure around 0, with what every fit over them needs. */
export class FitWindow {
  readonly n: number;
  /** s, what time 0 is. */
  readonly origin: number;
  /** bar, what pressure 0 is. */
  readonly base: number;
  /** s, last time. */
  readonly span: number;
  /** Typical number of samples in a bin, 1 or more. */
  readonly count: number;
  readonly time: Float64Array;
  readonly pressure: Float64Array;
  readonly weight: Float64Array;
  readonly ones: Float64Array;
  readonly whitener: Whitener;
  readonly tauMin: number;
  readonly tauMax: number;

  /** @param columns 2 or more bins */
  constructor(columns: Columns, { tauMin, tauMax }: TauRange) {
    const n = columns.time.length;
    const origin = columns.time[0] as number;
    const base = median(columns.pressure);
    this.n = n;
    this.origin = origin;
    this.base = base;
    [this.time, this.pressure, this.ones] = columnBlock(n, 3) as [Float64Array, Float64Array, Float64Array];
    for (let i = 0; i < n; i++) {
      this.time[i] = (columns.time[i] as number) - origin;
      this.pressure[i] = (columns.pressure[i] as number) - base;
    }
    this.ones.fill(1);
    this.weight = columns.weight;
    this.span = this.time[n - 1] as number;
    this.count = Math.max(1, median(columns.weight));
    const spacing = median(Float64Array.from({ length: n - 1 }, (_, i) => (this.time[i + 1] as number) - (this.time[i] as number)));
    this.tauMin = tauMin ?? 2 * spacing;
    this.tauMax = Math.max(tauMax ?? Math.max(120, this.span), 2 * this.tauMin);
    this.whitener = new Whitener(this.time, this.weight, spacing);
  }

  /** exp(-t/tau). */
  exponential(tau: number): Float64Array {
    return this.time.map((t) => Math.exp(-t / tau));
  }

  /** An exponential and its derivative by log tau: the plane in which the fit moves near tau. */
  exponentialPlane(tau: number): [Float64Array, Float64Array] {
    const [exponential, slope] = columnBlock(this.n, 2) as [Float64Array, Float64Array];
    for (let i = 0; i < this.n; i++) {
      const age = (this.time[i] as number) / tau;
      exponential[i] = Math.exp(-age);
      slope[i] = age * (exponential[i] as number);
    }
    return [exponential, slope];
  }

  /** The fit of these linear columns and one exponential, under the noise that the whitener now has. */
  profile(linear: readonly Float64Array[]): DecayProfile {
    const profile = new DecayProfile(this.time, this.pressure, linear, this.whitener);
    profile.prepare();
    return profile;
  }

  /** Smallest variance that rounding of the arithmetic allows for, so that a perfect curve divides nothing by 0. */
  leastVariance(): number {
    let largest = 1e-9;
    for (const p of this.pressure) largest = Math.max(largest, Math.abs(p));
    return this.count * (1e-9 * largest) ** 2;
  }
}
