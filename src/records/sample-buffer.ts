import type { Samples } from './block-codec.js';

/** Samples that wait to be written, in the order received. Grows in place; nothing is allocated for a sample. */
export class SampleBuffer {
  private times = new Float64Array(1024);
  private pressures = new Float64Array(1024);
  private raws = new Float64Array(1024);
  private flagBits = new Uint8Array(1024);
  private anyRaw = false;
  length = 0;

  push(time: number, pressure: number, flags: number, raw: number | undefined): void {
    if (this.length === this.times.length) this.grow();
    const i = this.length++;
    this.times[i] = time;
    this.pressures[i] = pressure;
    this.flagBits[i] = flags;
    this.raws[i] = raw ?? NaN;
    if (raw !== undefined) this.anyRaw = true;
  }

  timeAt(i: number): number {
    return this.times[i] ?? NaN;
  }

  /** A copy of samples `from` to before `to`. */
  slice(from: number, to: number): Samples {
    return {
      time: this.times.slice(from, to),
      pressure: this.pressures.slice(from, to),
      flags: this.flagBits.slice(from, to),
      raw: this.anyRaw ? this.raws.slice(from, to) : null,
    };
  }

  /** Takes the first `count` samples out. */
  drop(count: number): void {
    for (const column of [this.times, this.pressures, this.raws, this.flagBits]) column.copyWithin(0, count, this.length);
    this.length -= count;
    if (this.length === 0) this.anyRaw = false;
  }

  private grow(): void {
    const larger = (column: Float64Array) => {
      const next = new Float64Array(column.length * 2);
      next.set(column);
      return next;
    };
    this.times = larger(this.times);
    this.pressures = larger(this.pressures);
    this.raws = larger(this.raws);
    const flags = new Uint8Array(this.flagBits.length * 2);
    flags.set(this.flagBits);
    this.flagBits = flags;
  }
}
