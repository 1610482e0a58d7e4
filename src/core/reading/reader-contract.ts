import type { FoundEvent, Outcome } from '../outcome.js';
import type { Plan } from '../plan.js';
import type { Thresholds } from '../thresholds.js';
import type { Instrument } from '../trace.js';
import type { CycleRecord } from './cycle-record.js';

/** A run that is over. */
export interface FinishedRun {
  /** s: first and last sample that belong to it, on the trace's own clock. */
  readonly from: number;
  readonly to: number;
  readonly outcome: Outcome;
}

/** Where a reader hands what it finds. Called during `step`, `mark` or `end`. */
export interface ReaderSink {
  /** The first rise of a run was seen; `at` (s) lies a little in the past. */
  runStarted(at: number): void;
  found(event: FoundEvent): void;
  runEnded(run: FinishedRun): void;
  /**
   * What was seen of the cycles of a run, just before `runEnded`: for whoever wants to look into a reading. Times are on the
   * trace's clock, but for the averages of the fit, whose zero is at `origin` (s).
   */
  cyclesRead?(cycles: readonly CycleRecord[], origin: number): void;
}

/** What a reader works with. A missing plan leaves every run `inconclusive`. */
export interface ReaderSetup {
  readonly plan: Plan | null;
  readonly thresholds: Thresholds;
  readonly instrument?: Instrument;
  /** bar: what heights are judged against where there is no plan; default 100 bar. */
  readonly usualPressure?: number;
}
