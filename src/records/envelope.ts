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
    const { from, to, perSecond } = this;
    // Neighbours mostly fall into the same column: it is filled once they leave it.
    let column = -1;
    let [first, low, high, last, seen] = [NaN, NaN, NaN, NaN, 0];
    for (let i = 0; i < time.length; i++) {
      const t = time[i]!;
      if (!(t >= from && t <= to)) continue;
      const c = Math.floor((t - from) * perSecond);
      if (c !== column) {
        if (column >= 0) this.fill(column, first, low, high, last, seen);
        column = c;
        first = low = high = last = NaN;
        seen = 0;
      }
      seen |= flags[i]!;
      const p = pressure[i]!;
      if (p !== p) continue;
      if (first !== first) first = low = high = p;
      else if (p < low) low = p;
      else if (p > high) high = p;
      last = p;
    }
    if (column >= 0) this.fill(column, first, low, high, last, seen);
  }

  /** Takes the extremes of a stretch around time `t` (s) within the window. */
  add(t: number, first: number, lowest: number, highest: number, last: number, flags: number): void {
    this.fill(Math.floor((t - this.from) * this.perSecond), first, lowest, highest, last, flags);
  }

  private fill(column: number, first: number, lowest: number, highest: number, last: number, flags: number): void {
    // The very end of the window belongs to the last column.
    const c = Math.min(this.columns - 1, Math.max(0, column));
    this.flags[c]! |= flags;
    if (first !== first) return; // NaN: no reading in it
    if (this.first[c]! !== this.first[c]!) this.first[c] = first;
    if (!(this.lowest[c]! <= lowest)) this.lowest[c] = lowest;
    if (!(this.highest[c]! >= highest)) this.highest[c] = highest;
    this.last[c] = last;
  }
}
