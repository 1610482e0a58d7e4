import type { LiveView } from './live.js';
import type { FoundEvent, Outcome } from './outcome.js';
import type { Plan } from './plan.js';
import type { Thresholds } from './thresholds.js';
import type { Instrument, Mark } from './trace.js';

/** A run that is over. */
export interface FinishedRun {
  /** s: first and last sample that belong to it, on the trace's own clock. */
  readonly from: number;
  readonly to: number;
  readonly outcome: Outcome;
}

/** Where a reader hands what it finds. Called in order of time, during `step`, `mark` or `end`. */
export interface ReaderSink {
  /** The first rise of a run was seen; `at` lies a little in the past. */
  runStarted(at: number): void;
  found(event: FoundEvent): void;
  runEnded(run: FinishedRun): void;
}

/** What a reader works with. A missing plan leaves every run `inconclusive`. */
export interface ReaderSetup {
  readonly plan: Plan | null;
  readonly thresholds: Thresholds;
  readonly instrument?: Instrument;
}

/**
 * Reads one pressure channel sample by sample: finds runs, cycles and events and judges each run when it is over.
 * The live daemon, `judge` and the pages run this very class.
 */
export class RunReader {
  constructor(
    protected readonly setup: ReaderSetup,
    protected readonly sink: ReaderSink,
  ) {}

  /** One reading: time in s, calibrated pressure in bar, `Flag` bits. */
  step(_time: number, _pressure: number, _flags: number): void {}

  mark(_mark: Mark): void {}

  /** The recording is over: what is open is judged as it stands. */
  end(): void {}

  view(): LiveView {
    throw new Error('being built');
  }
}
