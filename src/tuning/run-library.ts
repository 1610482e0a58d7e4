import type { Outcome, Verdict } from '../core/outcome.js';
import type { Instrument } from '../core/trace.js';
import type { ImportOptions } from '../core/import/import-options.js';
import type { RunLabels, RunTruth } from '../records/run-labels.js';
import type { CycleRecord } from '../core/reading/cycle-record.js';
import type { Judging } from './judging.js';

/** Number of a run in a store, or file name of a trace in a folder. */
export type RunKey = number | string;

/** What is known of a recorded run besides its readings. */
export interface RunCard {
  readonly key: RunKey;
  /** `run 17` or `trace.csv`. */
  readonly name: string;
  readonly bench: string | null;
  /** ms since 1970; `null` in a folder. */
  readonly wall: number | null;
  readonly hose: string | null;
  readonly planName: string | null;
  readonly labels: RunLabels;
}

/** A recorded run that can be judged again. */
export interface RecordedRun extends RunCard {
  /** By what it was judged, or would be as things stand. */
  readonly own: Judging;
  readonly instrument: Instrument | null;
  /** What it was judged to be; `null` where nothing of the kind is on record. */
  readonly recorded: readonly Outcome[] | null;
  /** True where another version of the program made that outcome. */
  readonly otherProgram: boolean;
  /**
   * Judges it by each of these; the readings are read once.
   * @throws InputError, DamagedBlock where they cannot be read
   */
  judge(judgings: readonly Judging[]): readonly (readonly Outcome[])[];
  /** What is seen of its pressurisations, read by one judging. @throws as `judge` */
  cycles(judging: Judging): readonly CycleRecord[];
}

/** Which runs are meant; everything given must fit. */
export interface LibraryChoice {
  /** Numbers, first and last of each range. */
  readonly numbers?: readonly (readonly [number, number])[];
  /** Name of the plan, or its beginning. */
  readonly plan?: string;
  readonly hose?: string;
  readonly bench?: string;
  /** ms since 1970: runs that began at or after it, and before `until`. */
  readonly since?: number;
  readonly until?: number;
  /** As they are on record, or as they come out now where there is no record. */
  readonly verdict?: Verdict;
  readonly label?: RunTruth | 'labelled' | 'not labelled';
}

/** Recorded runs, wherever they are kept. */
export interface RunLibrary {
  /** Keys of the runs that may be meant, in order; `isMeant` decides. @throws InputError for a choice that it cannot make */
  keys(choice: LibraryChoice): readonly RunKey[];
  /** @throws InputError where the run cannot be read */
  run(key: RunKey): RecordedRun;
  close(): void;
}

/** Where a library is: plain data, so that every thread can open it for itself. */
export type LibraryAddress =
  | { readonly kind: 'store'; readonly path: string; readonly software: string }
  | {
      readonly kind: 'folder';
      readonly path: string;
      /** Only this trace of it. */
      readonly only?: string;
      readonly options: ImportOptions;
      /** Of all traces; without it that of NAME.truth.json holds where `truthful`, else none. */
      readonly instrument?: Instrument;
      readonly truthful: boolean;
    };

/** What a choice asks that only the run itself can tell. */
export function isMeant(run: RunCard, { plan, label }: LibraryChoice): boolean {
  if (plan !== undefined && !(run.planName ?? '').toLowerCase().startsWith(plan.trim().toLowerCase())) return false;
  if (label === undefined) return true;
  const { truth, spikes } = run.labels;
  const labelled = truth !== null || spikes.length > 0;
  return label === 'labelled' ? labelled : label === 'not labelled' ? !labelled : truth === label;
}
