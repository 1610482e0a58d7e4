/** When a hold may begin, in house units. */
export interface SettlingLimits {
  /** s without a stroke. */
  readonly quietTime: number;
  /** s over which the slope is taken. */
  readonly window: number;
  /** bar/s */
  readonly slope: number;
  /** bar/s by which the slope may differ from that of the window before, to count as steady. */
  readonly steady: number;
  /** s after the last stroke. */
  readonly timeout: number;
}

export type SettledBy = 'slope' | 'steady' | 'timeout';

/**
 * Applies the definition of the settled pressure to the noise-free pressure: no stroke for `quietTime`, and a
 * regression slope over the trailing `window` below `slope`, or no longer changing from window to window, or `timeout`.
 * The window lies wholly after the last stroke. One reading each `interval` seconds.
 */
export class SettlingWatch {
  /** s; NaN until settled. */
  settled = Number.NaN;
  by: SettledBy = 'slope';

  private readonly size: number;
  private readonly readings: Float64Array;
  private readonly slopes: Float64Array;
  private count = 0;
  private from = Number.NaN;
  /** Sum of the readings less `reference`, and of reading times place in the window. */
  private sum = 0;
  private moment = 0;
  private reference = 0;

  constructor(
    private readonly limits: SettlingLimits,
    private readonly interval: number,
  ) {
    this.size = Math.round(limits.window / interval) + 1;
    this.readings = new Float64Array(this.size);
    this.slopes = new Float64Array(this.size);
  }

  /** A stroke ended at `time`, or the bench was vented: all begins anew. */
  restart(time: number): void {
    this.from = time;
    this.count = 0;
    this.sum = 0;
    this.moment = 0;
    this.settled = Number.NaN;
  }

  /** The noise-free pressure (bar) at `time` (s); true when it settles at this moment. */
  step(time: number, pressure: number): boolean {
    if (!Number.isNaN(this.settled) || Number.isNaN(this.from)) return false;
    if (this.count === 0) this.reference = pressure;
    const n = this.size;
    const slot = this.count % n;
    const value = pressure - this.reference;
    if (this.count >= n) {
      const oldest = this.readings[slot] ?? 0;
      // Every reading moves one place down; the newest takes the last place.
      this.moment += (n - 1) * value - (this.sum - oldest);
      this.sum += value - oldest;
    } else {
      this.moment += this.count * value;
      this.sum += value;
    }
    this.readings[slot] = value;
    this.count++;
    if (time - this.from >= this.limits.timeout) return this.settle(time, 'timeout');
    if (this.count < n) return false;
    const middle = (n - 1) / 2;
    const slope = (12 * (this.moment - middle * this.sum)) / (n * (n * n - 1) * this.interval);
    const before = this.count >= 2 * n ? (this.slopes[slot] ?? Number.NaN) : Number.NaN;
    this.slopes[slot] = slope;
    if (time - this.from < this.limits.quietTime) return false;
    if (Math.abs(slope) < this.limits.slope) return this.settle(time, 'slope');
    if (Math.abs(slope - before) < this.limits.steady) return this.settle(time, 'steady');
    return false;
  }

  private settle(time: number, by: SettledBy): true {
    this.settled = time;
    this.by = by;
    return true;
  }
}
