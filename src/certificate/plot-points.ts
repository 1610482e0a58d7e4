import type { Thresholds } from '../core/thresholds.js';
import type { Run } from '../records/runs.js';
import type { StoreReader } from '../records/store-reader.js';
import { thin, thinnedPoints } from '../sinks/live-thinning.js';

/** A trace as it is drawn: its first, lowest, highest and last sample of each column; NaN breaks the line. */
export interface PlotPoints {
  /** s from the start of the run. */
  readonly time: Float64Array;
  /** bar */
  readonly pressure: Float64Array;
  /** s, length of the run. */
  readonly length: number;
}

/** Columns of a plot: finer than a printer shows over the width of a page. */
const columns = 900;
/** Above this the store's overview is taken: reading millions of samples would take long and show the same. */
const readWhole = 400_000;

/** The trace of a run that is over, thinned so that every spike stays. */
export function plotPoints(store: StoreReader, run: Run, samples: number, interval: number | null): PlotPoints {
  const to = run.to ?? run.from;
  const length = Math.max(to - run.from, 1e-6);
  if (samples > readWhole) return { ...fromOverview(store, run, to), length };
  const trace = store.traceOfRun(run.number);
  const order = sortedByTime(trace.time);
  const time = Float64Array.from(order, (i) => (trace.time[i] ?? 0) - run.from);
  const pressure = Float64Array.from(order, (i) => trace.pressure[i] ?? NaN);
  const thresholds = store.versions.get(run.thresholds)?.content as Partial<Thresholds> | undefined;
  const gap = Math.max(thresholds?.gap ?? 1, 3 * (interval ?? 0));
  const out = thinnedPoints(columns);
  const count = thin(time, pressure, 0, time.length, { from: 0, to: length, columns, gap }, out);
  return { time: out.time.slice(0, count), pressure: out.pressure.slice(0, count), length };
}

/** Samples are kept in the order received; a backward time would be drawn as a line back. */
function sortedByTime(time: Float64Array): Uint32Array {
  const order = Uint32Array.from(time, (_, i) => i);
  return time.every((t, i) => i === 0 || t >= (time[i - 1] ?? t)) ? order : order.sort((a, b) => (time[a] ?? 0) - (time[b] ?? 0));
}

function fromOverview(store: StoreReader, run: Run, to: number): Omit<PlotPoints, 'length'> {
  const { first, lowest, highest, last } = store.envelope(run.channel, run.from, to, columns);
  const time: number[] = [];
  const pressure: number[] = [];
  first.forEach((begin, column) => {
    const t = ((column + 0.5) * (to - run.from)) / columns;
    const values = Number.isNaN(begin) ? [NaN] : [begin, lowest[column] ?? NaN, highest[column] ?? NaN, last[column] ?? NaN];
    for (const value of values) {
      time.push(t);
      pressure.push(value);
    }
  });
  return { time: Float64Array.from(time), pressure: Float64Array.from(pressure) };
}
