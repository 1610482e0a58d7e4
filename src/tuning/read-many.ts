import type { Outcome } from '../core/outcome.js';
import type { ReaderSink } from '../core/reading/reader-contract.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import { RunReader, type FinishedRun } from '../core/run-reader.js';
import type { Instrument, Mark } from '../core/trace.js';
import type { Judging } from './judging.js';

/** Samples of one piece of a trace, column by column. */
export interface Piece {
  readonly time: Float64Array;
  readonly pressure: Float64Array;
  readonly flags: Uint8Array;
}

/** Hears what was seen of the cycles of each run; see `ReaderSink`. */
export type CyclesRead = NonNullable<ReaderSink['cyclesRead']>;

/** A stretch of recording with one run in it. */
export interface Recording {
  readonly reading: ReadingStretch;
  readonly instrument: Instrument | null;
  /** By time. */
  readonly marks: readonly Mark[];
  /** In the order received. */
  readonly pieces: Iterable<Piece>;
}

/**
 * Reads a recording once for several judgings, piece by piece, so that memory stays flat however long it is.
 * Each comes to what it would come to alone. What is open at the end is judged as it stands.
 */
export function readMany({ reading, instrument, marks, pieces }: Recording, judgings: readonly Judging[], cyclesRead: CyclesRead = () => undefined): readonly (readonly FinishedRun[])[] {
  const found: FinishedRun[][] = judgings.map(() => []);
  const readers = judgings.map(({ plan, thresholds }, i) =>
    new RunReader(
      { plan, thresholds, ...(instrument && { instrument }) },
      { runStarted: () => undefined, found: () => undefined, runEnded: (run) => found[i]?.push(run), cyclesRead },
    ));
  if (reading.lid !== null) for (const reader of readers) reader.mark({ time: reading.from, kind: reading.lid === 'open' ? 'lid-open' : 'lid-closed' });
  let next = 0;
  for (const { time, pressure, flags } of pieces) {
    let after = next;
    for (const reader of readers) {
      // The order in which the bench was read: a mark comes before the first sample that is not earlier.
      after = next;
      for (let i = 0; i < time.length; i++) {
        const at = time[i] ?? NaN;
        for (let mark = marks[after]; mark !== undefined && mark.time <= at; mark = marks[++after]) reader.mark(mark);
        reader.step(at, pressure[i] ?? NaN, flags[i] ?? 0);
      }
    }
    next = after;
  }
  for (const reader of readers) {
    for (const mark of marks.slice(next)) reader.mark(mark);
    reader.end();
  }
  return found;
}

/** Outcomes of the runs that share time with the one on record: with other thresholds it may begin elsewhere, or be two. */
export const outcomesWithin = (runs: readonly FinishedRun[], from: number, to: number): Outcome[] =>
  runs.filter((run) => run.from < to && run.to > from).map(({ outcome }) => outcome);
