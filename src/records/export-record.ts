import { recordColumns } from './exported-record.js';
import { extentOf } from './run-record.js';
import type { StoreReader } from './store-reader.js';
import { inputError } from '../core/problems.js';

/** Lines to gather before they are handed on. */
const linesPerChunk = 2048;

/**
 * The record of a run as JSON, in pieces: its rows of the ledger (the record itself, then what was appended) and every
 * sample that it seals, one a line as `[time_s, pressure_bar, flags, raw]`. `null` stands for a reading that did not
 * come. Nothing is rounded: seals and digest can be checked from the file alone.
 * @throws InputError for a run that is not there or not over; DamagedBlock where the trace is damaged
 */
export function* recordJson(store: StoreReader, number: number): Generator<string> {
  const run = store.getRun(number);
  if (run === null) throw inputError(`run ${number}`, '', 'there is no such run');
  if (run.received === null) throw inputError(`run ${number}`, '', 'is not over yet; only what is sealed can be exported');
  const rows = store.ledger.of(number).map(({ record, ...row }) => `${JSON.stringify({ ...row, record: '' }).replace(/"record":""\}$/, `"record":${record}}`)}`);
  yield `{"dwellkeeper":"record","format":1,"ledger":[\n${rows.join(',\n')}\n],"columns":${JSON.stringify(recordColumns)},"samples":[`;
  const { from, to } = extentOf(run);
  let lines: string[] = [];
  let before = '\n';
  // What retention has left of a trace is not what was sealed.
  const pieces = store.traceRemoved(number) ? [] : store.traces.inTurn(run.channel, from, to, run.received);
  for (const { time, pressure, flags, raw } of pieces) {
    for (let i = 0; i < time.length; i++) {
      lines.push(`${before}[${shown(time[i])},${shown(pressure[i])},${flags[i] ?? 0},${shown(raw?.[i])}]`);
      before = ',\n';
      if (lines.length < linesPerChunk) continue;
      yield lines.join('');
      lines = [];
    }
  }
  yield `${lines.join('')}\n]}\n`;
}

/** Shortest digits that give the same double; JSON has no sign for zero in JSON.stringify, and the digest sees it. */
function shown(value: number | undefined): string {
  if (value === undefined || Number.isNaN(value)) return 'null';
  return Object.is(value, -0) ? '-0' : String(value);
}
