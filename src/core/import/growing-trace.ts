import type { Trace } from '../trace.js';

/** Grows three columns side by side; rows are only ever added. */
export class GrowingTrace {
  length = 0;
  /** Samples that carry a flag. */
  flagged = 0;
  private time: Float64Array;
  private pressure: Float64Array;
  private flags: Uint8Array;

  constructor(expected = 1024) {
    this.time = new Float64Array(expected);
    this.pressure = new Float64Array(expected);
    this.flags = new Uint8Array(expected);
  }

  /** s, bar, `Flag` bits. */
  add(time: number, pressure: number, flags: number): void {
    const i = this.length++;
    if (i === this.time.length) this.grow();
    this.time[i] = time;
    this.pressure[i] = pressure;
    this.flags[i] = flags;
    if (flags !== 0) this.flagged++;
  }

  private grow(): void {
    const size = Math.ceil(this.time.length * 1.5) + 16;
    const [time, pressure, flags] = [new Float64Array(size), new Float64Array(size), new Uint8Array(size)];
    time.set(this.time);
    pressure.set(this.pressure);
    flags.set(this.flags);
    [this.time, this.pressure, this.flags] = [time, pressure, flags];
  }

  trace(): Trace {
    const columns = { time: this.time.slice(0, this.length), pressure: this.pressure.slice(0, this.length) };
    return this.flagged === 0 ? columns : { ...columns, flags: this.flags.slice(0, this.length) };
  }
}

/** s, median step forward of at most the first 1001 samples; `null` where there is none. */
export function usualInterval(trace: Trace): number | null {
  const steps: number[] = [];
  for (let i = 1; i < Math.min(trace.time.length, 1001); i++) {
    const step = (trace.time[i] ?? NaN) - (trace.time[i - 1] ?? NaN);
    if (step > 0) steps.push(step);
  }
  const middle = steps.sort((a, b) => a - b)[Math.floor(steps.length / 2)];
  return middle === undefined ? null : Number(middle.toPrecision(9));
}

/** bar in one unit of the last decimal, or `null` where numbers have more digits than any gauge shows. */
export function stepOfDecimals(decimals: number, barInUnit: number): number | null {
  return decimals > 8 ? null : Number((10 ** -decimals * barInUnit).toPrecision(12));
}
