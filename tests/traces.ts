import { traceOf, type Mark, type Trace } from '../src/core/trace.js';

/** Builds a trace piece by piece, the way a chart reads. Noise is repeatable. */
export class TraceBuilder {
  private readonly times: number[] = [];
  private readonly pressures: number[] = [];
  private readonly flags: number[] = [];
  private readonly marks: Mark[] = [];
  private clock: number;
  private seed: number;

  constructor(
    /** s between samples */ private readonly interval = 0.1,
    /** bar, standard deviation */ private readonly sigma = 0,
    /** bar, step of the reading; 0 leaves it as it is */ private readonly resolution = 0.01,
    seed = 1,
    start = 0,
  ) {
    this.clock = start;
    this.seed = seed;
  }

  /** Pressure as a function of the time since the piece began, for `duration` seconds. */
  shape(duration: number, pressure: (t: number) => number, noise = this.sigma): this {
    const n = Math.round(duration / this.interval);
    for (let i = 0; i < n; i++) this.push(pressure(i * this.interval) + noise * this.gauss());
    return this;
  }

  level(duration: number, pressure: number, noise = this.sigma): this {
    return this.shape(duration, () => pressure, noise);
  }

  ramp(duration: number, from: number, to: number): this {
    return this.shape(duration, (t) => from + ((to - from) * t) / duration);
  }

  /** Samples as they stand. */
  values(...pressures: number[]): this {
    for (const p of pressures) this.push(p);
    return this;
  }

  /** A time without samples. */
  silence(duration: number): this {
    this.clock = this.clock + duration;
    return this;
  }

  mark(kind: Mark['kind']): this {
    this.marks.push({ time: this.now, kind });
    return this;
  }

  flagged(n: number, flag: number, pressure = NaN): this {
    for (let i = 0; i < n; i++) {
      this.push(pressure);
      this.flags[this.flags.length - 1] = flag;
    }
    return this;
  }

  get now(): number {
    return Number(this.clock.toFixed(6));
  }

  get trace(): Trace {
    return { ...traceOf(this.times, this.pressures, this.flags), marks: this.marks };
  }

  private push(pressure: number): void {
    const r = this.resolution;
    this.times.push(this.now);
    this.pressures.push(r > 0 ? Number((Math.round(pressure / r) * r).toFixed(6)) : pressure);
    this.flags.push(0);
    this.clock = this.clock + this.interval;
  }

  /** Box-Muller (1958) over a small multiplicative generator; good enough for noise on a chart. */
  private gauss(): number {
    const u = () => {
      this.seed = (Math.imul(this.seed, 1664525) + 1013904223) >>> 0;
      return (this.seed + 1) / 4294967297;
    };
    return Math.sqrt(-2 * Math.log(u())) * Math.cos(2 * Math.PI * u());
  }
}

/** Strokes: each lifts by `rise` within `quick` s and relaxes by `back` until the period is over. */
export const stroke = (from: number, rise: number, back: number, quick = 0.2, period = 1) => (t: number): number =>
  t < quick ? from + (rise * t) / quick : from + rise - (back * (t - quick)) / (period - quick);
