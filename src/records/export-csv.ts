import { Readable } from 'node:stream';
import type { RecordedTrace } from './trace-reader.js';

/**
 * One field of a CSV line as RFC 4180 quotes it. A text that a spreadsheet would run as a formula (it begins with
 * `=`, `+`, `-`, `@`, a tab or a line end) gets an apostrophe in front, so that it is shown and not run. Numbers pass.
 */
export function csvField(value: string | number | null): string {
  if (value === null || Number.isNaN(value)) return '';
  if (typeof value === 'number') return String(value);
  const safe = /^[\s\p{Cf}]*[=+\-@\t\r\n|%]/u.test(value) ? `'${value}` : value;
  return /[",\r\n;\t]/.test(safe) || safe !== safe.trim() ? `"${safe.replaceAll('"', '""')}"` : safe;
}

export interface CsvOptions {
  /** Adds a column of `Flag` bits. */
  readonly flags?: boolean;
  /** s, taken off every time: the start of the run, so that its trace begins at 0. Default 0. */
  readonly zero?: number;
}

type CsvTrace = Pick<RecordedTrace, 'time' | 'pressure' | 'flags'>;

/** Lines to gather before they are handed on. */
const linesPerChunk = 4096;

/**
 * A trace as CSV: header `time_s,pressure_bar` (and `flags`), one sample a line, shortest digits that give the same
 * double. A sample without a reading keeps its line with an empty pressure.
 */
export function traceCsv(trace: CsvTrace, options?: CsvOptions): Generator<string> {
  return piecesCsv([trace], options);
}

/** The same for a trace that comes in pieces, in the order received. */
export function* piecesCsv(pieces: Iterable<CsvTrace>, { flags = false, zero = 0 }: CsvOptions = {}): Generator<string> {
  const lines = [flags ? 'time_s,pressure_bar,flags' : 'time_s,pressure_bar'];
  for (const trace of pieces) {
    for (let i = 0; i < trace.time.length; i++) {
      const t = trace.time[i]!;
      // Times are whole microseconds; without rounding the subtraction would show digits that nobody measured.
      const time = zero === 0 ? t : Math.round((t - zero) * 1e6) / 1e6;
      const line = `${csvField(time)},${csvField(trace.pressure[i]!)}`;
      lines.push(flags ? `${line},${trace.flags[i]!}` : line);
      if (lines.length >= linesPerChunk) yield `${lines.splice(0).join('\r\n')}\r\n`;
    }
  }
  if (lines.length > 0) yield `${lines.join('\r\n')}\r\n`;
}

/** The same as a stream, for a file or an HTTP answer. */
export const traceCsvStream = (trace: RecordedTrace, options?: CsvOptions): Readable => Readable.from(traceCsv(trace, options));

/** One line of texts and numbers. */
export const csvLine = (row: readonly (string | number | null)[]): string => `${row.map(csvField).join(',')}\r\n`;

/** Rows of texts and numbers as CSV with a header: job details, runs, findings. */
export function tableCsv(header: readonly string[], rows: Iterable<readonly (string | number | null)[]>): string {
  return [header, ...rows].map(csvLine).join('');
}
