import type { Trace } from '../../src/core/trace.js';
import { indexAt, nearest, type Gap, type TraceSource } from '../shared/trace-source.js';

const empty = { time: new Float64Array(), pressure: new Float64Array(), gaps: [] as Gap[] };

/** The trace that the plot shows at the moment. */
export class LoadedTrace implements TraceSource {
  private shown = empty;

  get time(): Float64Array {
    return this.shown.time;
  }
  get pressure(): Float64Array {
    return this.shown.pressure;
  }
  get gaps(): readonly Gap[] {
    return this.shown.gaps;
  }
  readonly start = 0;
  get end(): number {
    return this.shown.time.length;
  }

  /** s; NaN for both where there is nothing. */
  get extent(): { readonly from: number; readonly to: number } {
    const { time } = this.shown;
    return { from: time[0] ?? NaN, to: time[time.length - 1] ?? NaN };
  }

  /** Shows another trace. @param gap s between good samples above which a stretch is told as a gap */
  take(trace: Trace | null, gap: number): void {
    this.shown = trace === null ? empty : drawable(trace, gap);
  }

  indexAt(time: number): number {
    return indexAt(this, time);
  }

  nearest(time: number, reach: number): number {
    return nearest(this, time, reach);
  }
}

/** In order of time, with NaN for what cannot be trusted. */
function drawable({ time, pressure, flags }: Trace, gap: number): typeof empty {
  const order = rising(time) ? null : Uint32Array.from(time, (_, i) => i).sort((a, b) => (time[a] as number) - (time[b] as number));
  const n = time.length;
  const out = { time: new Float64Array(n), pressure: new Float64Array(n), gaps: [] as Gap[] };
  let good = NaN;
  for (let k = 0; k < n; k++) {
    const i = order === null ? k : (order[k] as number);
    const p = pressure[i] as number;
    const t = time[i] as number;
    const sound = (flags?.[i] ?? 0) === 0 && Number.isFinite(p);
    out.time[k] = t;
    out.pressure[k] = sound ? p : NaN;
    if (!sound) continue;
    if (t - good > gap && out.gaps.length < 500) out.gaps.push({ from: good, to: t });
    good = t;
  }
  return out;
}

function rising(time: Float64Array): boolean {
  for (let i = 1; i < time.length; i++) if (!((time[i] as number) >= (time[i - 1] as number))) return false;
  return true;
}
