import type { SampleBatch } from '../../src/server/bench-feed.js';
import { indexAt, nearest, type Gap, type TraceSource } from './trace-source.js';

const firstCapacity = 16_384;
const mostGaps = 500;

/**
 * The samples that the page holds, oldest first. The columns are twice as long as what is kept, so that a new sample is
 * written behind the last one and everything is moved only once in `capacity` samples.
 */
export class TraceBuffer implements TraceSource {
  #time = new Float64Array(2 * firstCapacity);
  #pressure = new Float64Array(2 * firstCapacity);
  #start = 0;
  #end = 0;
  #next: number | null = null;
  #lastGood: number | null = null;
  readonly #gaps: Gap[] = [];

  /** @param capacity most samples kept; the oldest go first */
  constructor(readonly capacity: number = 1_000_000) {}

  /** s */ get time(): Float64Array { return this.#time; }
  /** bar, NaN where there was no number */ get pressure(): Float64Array { return this.#pressure; }
  /** Index of the oldest sample, and one past the newest. */
  get start(): number { return this.#start; }
  get end(): number { return this.#end; }
  get length(): number { return this.#end - this.#start; }
  /** s; NaN when empty. */
  get oldestTime(): number { return this.length > 0 ? (this.#time[this.#start] ?? Number.NaN) : Number.NaN; }
  get newestTime(): number { return this.length > 0 ? (this.#time[this.#end - 1] ?? Number.NaN) : Number.NaN; }
  /** Sequence number of the newest sample; `null` when there is none. */
  get newest(): number | null { return this.#next === null ? null : this.#next - 1; }
  get gaps(): readonly Gap[] { return this.#gaps; }

  /**
   * Adds what is new in the batch; samples that are here already are left out. A flagged sample counts as missing.
   * @param gap s between good samples above which the stretch is told as a gap
   */
  add(batch: SampleBatch, gap: number): void {
    const known = this.#next === null ? 0 : this.#next - batch.first;
    if (known >= batch.time.length) return;
    for (let i = Math.max(known, 0); i < batch.time.length; i++) {
      const t = batch.time[i] ?? Number.NaN;
      const good = (batch.flags[i] ?? 0) === 0 && Number.isFinite(batch.pressure[i]);
      this.#makeRoom();
      this.#time[this.#end] = t;
      this.#pressure[this.#end++] = good ? (batch.pressure[i] ?? Number.NaN) : Number.NaN;
      if (!good) continue;
      if (this.#lastGood !== null && t - this.#lastGood > gap) {
        this.#gaps.push({ from: this.#lastGood, to: t });
        if (this.#gaps.length > mostGaps) this.#gaps.shift();
      }
      this.#lastGood = t;
    }
    this.#next = batch.first + batch.time.length;
  }

  /** Forgets everything: the sequence numbers of another session mean other samples. */
  clear(): void {
    this.#start = this.#end = 0;
    this.#next = this.#lastGood = null;
    this.#gaps.length = 0;
  }

  indexAt(time: number): number {
    return indexAt(this, time);
  }

  nearest(time: number, reach: number): number {
    return nearest(this, time, reach);
  }

  #makeRoom(): void {
    if (this.length === this.capacity) this.#start++;
    if (this.#end < this.#time.length) return;
    if (this.length * 2 > this.#time.length && this.length < this.capacity) {
      const room = Math.min(this.#time.length * 2, this.capacity * 2);
      this.#time = moved(this.#time, this.#start, this.#end, new Float64Array(room));
      this.#pressure = moved(this.#pressure, this.#start, this.#end, new Float64Array(room));
    } else {
      this.#time.copyWithin(0, this.#start, this.#end);
      this.#pressure.copyWithin(0, this.#start, this.#end);
    }
    this.#end -= this.#start;
    this.#start = 0;
  }
}

function moved(from: Float64Array, start: number, end: number, to: Float64Array): Float64Array<ArrayBuffer> {
  const target = to as Float64Array<ArrayBuffer>;
  target.set(from.subarray(start, end));
  return target;
}
