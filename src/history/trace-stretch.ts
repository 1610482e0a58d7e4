import { inputError } from '../core/problems.js';
import type { Envelope } from '../records/envelope.js';
import { extentOf } from '../records/run-record.js';
import type { StoreReader } from '../records/store-reader.js';
import type { TraceStretch } from '../server/history-answers.js';

export interface StretchWanted {
  readonly run: number;
  /** s on the store's clock; the whole run with what was read around it where they are left out. */
  readonly from?: number | undefined;
  readonly to?: number | undefined;
  readonly columns: number;
}

/** s beyond the run on either side that may be looked at: its surroundings, not the life of the bench. */
const around = 600;

/**
 * A stretch of the trace of a run for drawing, whatever its length: every sample where there are fewer than four to a
 * column, else first, lowest, highest and last of each column, so that nothing that stuck out is lost.
 * @throws InputError when there is no such run of the bench, or the stretch is none
 */
export function traceStretch(store: StoreReader, bench: string, { run: number, from: wantedFrom, to: wantedTo, columns }: StretchWanted): TraceStretch {
  const run = store.getRun(number);
  if (run?.bench !== bench) throw inputError(`run ${number}`, '', 'there is no such run on this bench');
  const all = extentOf(run);
  const from = Math.max(wantedFrom ?? all.from, all.from - around);
  const to = Math.min(wantedTo ?? all.to, all.to + around);
  if (!(to > from)) throw inputError(`run ${number}`, 'to', `the stretch from ${wantedFrom ?? all.from} to ${wantedTo ?? all.to} s holds nothing of this run, which lies from ${all.from} to ${all.to} s`);
  const interval = run.outcome?.signal.interval ?? null;
  if (interval !== null && (to - from) / interval <= 4 * columns) return samplesOf(store, run.channel, from, to);
  return columnsOf(store.envelope(run.channel, from, to, columns));
}

const micro = (seconds: number): number => Math.round(seconds * 1e6) / 1e6;
const shown = (bar: number): number | null => (Number.isNaN(bar) ? null : Math.round(bar * 1e4) / 1e4);

function samplesOf(store: StoreReader, channel: number, from: number, to: number): TraceStretch {
  const { time, pressure } = store.traceWindow(channel, from, to);
  const order = Array.from(time, (_, i) => i);
  // Almost always in order already; late ones are put where they belong.
  order.sort((a, b) => (time[a] ?? 0) - (time[b] ?? 0));
  return { from_s: from, to_s: to, column_s: 0, time_s: order.map((i) => micro(time[i] ?? 0)), pressure_bar: order.map((i) => shown(pressure[i] ?? Number.NaN)) };
}

/** Where in a column its four points are drawn: which of lowest and highest came first is not kept, and is no wider than a pixel. */
const places = [0.125, 0.375, 0.625, 0.875] as const;

function columnsOf({ from, to, first, lowest, highest, last }: Envelope): TraceStretch {
  const width = (to - from) / first.length;
  const time: number[] = [];
  const pressure: (number | null)[] = [];
  const put = (column: number, place: number, value: number | null): void => {
    time.push(micro(from + (column + place) * width));
    pressure.push(value);
  };
  for (let column = 0; column < first.length; column++) {
    const [f, low, high, l] = [first[column] ?? Number.NaN, lowest[column] ?? Number.NaN, highest[column] ?? Number.NaN, last[column] ?? Number.NaN];
    if (Number.isNaN(f)) {
      if (pressure.at(-1) !== null && pressure.length > 0) put(column, 0.5, null);
      continue;
    }
    // Down first where it ends high: the shape that a rising column has.
    const [one, other] = l >= f ? [low, high] : [high, low];
    [f, one, other, l].forEach((value, i) => put(column, places[i] ?? 0, shown(value)));
  }
  return { from_s: from, to_s: to, column_s: width, time_s: time, pressure_bar: pressure };
}
