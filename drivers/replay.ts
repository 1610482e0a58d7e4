import Papa from 'papaparse';
import { concatMap, from, Observable } from 'rxjs';
import { z } from 'zod';
import type { Clock } from './clock.js';
import type { Driver, Received } from './driver.js';
import { parseNumber } from './number-format.js';
import { LinkError } from './wiring.js';

/** s; a time may lie back by so much. */
const jitter = 1;

const speed = 'should be a number from 0.01 to 1000: how many times faster than it was recorded';

/** A recorded trace (`time_s,pressure_bar`) played back as if an instrument sent it. */
const options = z.strictObject({
  driver: z.literal('replay'),
  path: z.string().min(1),
  speed: z.number({ error: speed }).min(0.01, { error: speed }).max(1000, { error: speed }).default(1),
});

export type ReplayOptions = z.output<typeof options>;

/** One row; `time` in s on the trace's own clock. */
export interface TraceRow {
  readonly time: number;
  readonly raw: string;
  /** bar; `null` where the field is no number. */
  readonly pressure: number | null;
}

/**
 * The rows of a trace file in the project's own form; further columns are left alone.
 * @throws LinkError `unusable` that names the line.
 */
export function traceRows(text: string, path: string): TraceRow[] {
  const { data } = Papa.parse<string[]>(text.replace(/^\uFEFF/, ''), { delimiter: ',', skipEmptyLines: true });
  const [header = [], ...rows] = data;
  if (header[0]?.trim() !== 'time_s' || header[1]?.trim() !== 'pressure_bar') {
    throw new LinkError('unusable', `${path} begins with '${header.join(',').slice(0, 60)}'; its header should be time_s,pressure_bar: other files are read by judge alone`);
  }
  let newest = -Infinity;
  return rows.map((row, index) => {
    const [time = '', pressure = ''] = row;
    const seconds = parseNumber(time, 'point');
    if (seconds === null) throw new LinkError('unusable', `${path} row ${index + 2}: '${time}' is not a time in seconds`);
    // Readings that come late by more are left out as such: a second recording in the file would be lost without a word.
    if (seconds < newest - jitter) throw new LinkError('unusable', `${path} row ${index + 2}: the time runs back from ${newest} s to ${seconds} s; play each recording from a file of its own`);
    newest = Math.max(newest, seconds);
    return { time: seconds, raw: pressure.trim(), pressure: parseNumber(pressure, 'point') };
  });
}

export const replay = {
  options,
  describe: (o) => `the recording ${o.path}`,
  read: (o, wiring, clock) => from(wiring.readText(o.path)).pipe(concatMap((text) => play(traceRows(text, o.path), o, clock))),
} satisfies Driver<ReplayOptions>;

/** Rows in the order of the file, each at its time; a row that lies back in time comes at once. Completes after the last. */
const play = (rows: readonly TraceRow[], o: ReplayOptions, clock: Clock): Observable<Received> =>
  new Observable((subscriber) => {
    const start = clock.now();
    const first = rows[0]?.time ?? 0;
    subscriber.next({ kind: 'notice', time: start, code: 'opened', text: `the recording ${o.path} is open` });
    let next = 0;
    let cancel = () => {};
    const dueAt = (row: TraceRow) => start + (row.time - first) / o.speed;
    const step = () => {
      const now = clock.now();
      for (let row = rows[next]; row !== undefined && dueAt(row) <= now && !subscriber.closed; row = rows[++next]) {
        // The time of the row, not of the timer, and not of the speed: what is judged is what was recorded.
        const common = { time: start + row.time - first, channel: 'pressure', raw: row.raw };
        subscriber.next(row.pressure === null ? { kind: 'fault', ...common, fault: 'no-reading' } : { kind: 'reading', ...common, value: row.pressure, unit: 'bar' });
      }
      const row = rows[next];
      if (row === undefined) return subscriber.complete();
      if (!subscriber.closed) cancel = clock.after(dueAt(row) - now, step);
    };
    subscriber.add(() => cancel());
    step();
  });
