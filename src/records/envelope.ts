import type { Samples } from './block-codec.js';

/** A stretch of a trace thinned to columns of equal width; nothing that stuck out is lost. */
export interface Envelope {
  /** s, the edges of the first and last column. */
  readonly from: number;
  readonly to: number;
  /** bar, one for each column; NaN where the column has no reading. */
  readonly first: Float64Array;
  readonly lowest: Float64Array;
  readonly highest: Float64Array;
  readonly last: Float64Array;
  /** All `Flag` bits seen in the column. */
  readonly flags: Uint8Array;
}

/** Fills the columns of an envelope from samples or from extremes of stretches, in the order received. */
export class EnvelopeBuilder implements Envelope {
  readonly first: Float64Array;
  readonly lowest: Float64Array;
  readonly highest: Float64Array;
  readonly last: Float64Array;
  readonly flags: Uint8Array;
  private readonly perSecond: number;

  /** Columns from `from` to `to` (s), `to > from`. */
  constructor(
    readonly from: number,
    readonly to: number,
    readonly columns: number,
  ) {
    const empty = () => new Float64Array(columns).fill(NaN);
    [this.first, this.lowest, this.highest, this.last] = [empty(), empty(), empty(), empty()];
    this.flags = new Uint8Array(columns);
    this.perSecond = columns / (to - from);
  }

  /** Takes single samples; those outside the window are left out. */
  addSamples({ time, pressure, flags }: Samples): void {
    for (let i = 0; i < time.length; i++) {
      const t = time[i]!;
      if (t < this.from || t > this.to) continue;
      const p = pressure[i]!;
      this.add(t, p, p, p, p, flags[i]!);
    }
  }

  /** Takes the extremes of a stretch around time `t` (s) within the window. */
  add(t: number, first: number, lowest: number, highest: number, last: number, flags: number): void {
    const c = Math.min(this.columns - 1, Math.max(0, Math.floor((t - this.from) * this.perSecond)));
    this.flags[c]! |= flags;
    if (first !== first) return; // NaN: no reading in it
    if (this.first[c]! !== this.first[c]!) this.first[c] = first;
    if (!(this.lowest[c]! <= lowest)) this.lowest[c] = lowest;
    if (!(this.highest[c]! >= highest)) this.highest[c] = highest;
    this.last[c] = last;
  }
}
