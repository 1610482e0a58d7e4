import type { Outcome } from '../../src/core/outcome.js';
import type { Plan } from '../../src/core/plan.js';
import type { RunInDetail } from '../../src/core/reading-in-detail.js';
import type { Thresholds } from '../../src/core/thresholds.js';
import type { Instrument, Trace } from '../../src/core/trace.js';
import type { PlanOnTrial } from './plan-values.js';
import type { RunChange } from '../../src/tuning/run-change.js';

/** A run that the page has loaded, with all that reading it needs. */
export interface LoadedRun {
  readonly id: string;
  readonly trace: Trace;
  readonly plan: Plan | null;
  /** By which it is judged on record; of a file, those in force. */
  readonly own: Thresholds;
  readonly instrument: Instrument | null;
  /** The run on record: its stretch (s on the trace's clock) and outcome; `null` for a file. */
  readonly recorded: { readonly from: number; readonly to: number; readonly outcome: Outcome } | null;
}

/** s: where times of a run count from, its begin; what was read before it is earlier. */
export const zeroOf = ({ recorded, trace }: LoadedRun): number => recorded?.from ?? trace.time[0] ?? 0;

/** What runs are read with. */
export interface Tried {
  readonly thresholds: Thresholds;
  /** Without it each run by its own plan. */
  readonly trial?: PlanOnTrial | null;
}

/** To the worker. A newer `read` takes the place of an older one, a newer `sweep` likewise. */
export type ToReader =
  | { readonly kind: 'hold'; readonly run: LoadedRun }
  | { readonly kind: 'release'; readonly id: string }
  | ({ readonly kind: 'read'; readonly ticket: number; readonly id: string } & Tried)
  | ({ readonly kind: 'sweep'; readonly ticket: number; readonly ids: readonly string[] } & Tried)
  | { readonly kind: 'stop-sweep' };

/** What reading a run twice came to: as it was judged, and with the thresholds asked for. */
export interface ReadTwice {
  readonly id: string;
  readonly before: readonly RunInDetail[];
  readonly after: readonly RunInDetail[];
  readonly change: RunChange;
  /** What this version of the program says otherwise than the record, though nothing was changed; `null` where they agree. */
  readonly unlikeRecord: string | null;
}

/** From the worker. */
export type FromReader =
  | ({ readonly kind: 'read'; readonly ticket: number } & ReadTwice)
  | { readonly kind: 'swept'; readonly ticket: number; readonly id: string; readonly change: RunChange; readonly done: number; readonly of: number }
  | { readonly kind: 'failed'; readonly ticket: number; readonly id: string; readonly sentence: string };
