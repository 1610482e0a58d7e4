import type { SampleBatch } from '../server/bench-feed.js';

/** Limits of what the pages can look back on without asking the store. */
export interface RecentLimits {
  /** s of samples to keep, if there is room. */
  readonly span: number;
  /** Samples to keep at most, whatever their rate. */
  readonly samples: number;
}

/** 20 min; the limit of samples is reached above 1 kHz and costs 20 MB. */
export const recentLimits: RecentLimits = { span: 1200, samples: 1_200_000 };

/**
 * The newest samples in memory, numbered from 0 without holes. Grows with the sample rate up to its limits; then the
 * oldest give way. Pressure is bar, NaN where there is no number.
 */
export class RecentSamples {
  private time = new Float64Array(1024);
  private pressure = new Float64Array(1024);
  private flags = new Uint8Array(1024);
  /** Number of the oldest kept sample and of the next one to come. */
  private first = 0;
  private next = 0;

  constructor(private readonly limits: RecentLimits = recentLimits) {}

  /** Sequence number of the newest sample, -1 before the first. */
  newest(): number {
    return this.next - 1;
  }

  /** Sequence number of the oldest sample that is still kept. */
  oldest(): number {
    return this.first;
  }

  /** Keeps a sample and gives its number. */
  push(time: number, pressure: number, flags: number): number {
    const kept = this.next - this.first;
    if (kept >= this.limits.samples || (kept > 0 && time - this.timeOf(this.first) > this.limits.span)) this.first++;
    else if (kept === this.time.length) this.grow();
    const at = this.next % this.time.length;
    this.time[at] = time;
    this.pressure[at] = pressure;
    this.flags[at] = flags;
    return this.next++;
  }

  /** Up to `limit` samples after `sequence`, oldest first; those no longer kept are left out. */
  since(sequence: number, limit: number): SampleBatch {
    const first = Math.max(Math.floor(sequence) + 1, this.first);
    return this.cut(first, Math.min(this.next, first + limit));
  }

  /** Number of the first kept sample at or after `time` (s). */
  firstAt(time: number): number {
    let low = this.first;
    let high = this.next;
    while (low < high) {
      const middle = (low + high) >>> 1;
      if (this.timeOf(middle) < time) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  /** All kept samples from `from` to `to` (s, both included). */
  between(from: number, to: number): SampleBatch {
    let end = this.firstAt(to);
    while (end < this.next && this.timeOf(end) <= to) end++;
    return this.cut(this.firstAt(from), end);
  }

  private cut(first: number, end: number): SampleBatch {
    const length = Math.max(0, end - first);
    const batch = { first, time: new Float64Array(length), pressure: new Float64Array(length), flags: new Uint8Array(length) };
    for (let i = 0; i < length; i++) {
      const at = (first + i) % this.time.length;
      batch.time[i] = this.time[at] ?? NaN;
      batch.pressure[i] = this.pressure[at] ?? NaN;
      batch.flags[i] = this.flags[at] ?? 0;
    }
    return batch;
  }

  private timeOf(sequence: number): number {
    return this.time[sequence % this.time.length] ?? NaN;
  }

  private grow(): void {
    const all = this.cut(this.first, this.next);
    const size = this.time.length * 2;
    this.time = new Float64Array(size);
    this.pressure = new Float64Array(size);
    this.flags = new Uint8Array(size);
    for (let i = 0; i < all.time.length; i++) {
      const at = (all.first + i) % size;
      this.time[at] = all.time[i] ?? NaN;
      this.pressure[at] = all.pressure[i] ?? NaN;
      this.flags[at] = all.flags[i] ?? 0;
    }
  }
}
