import type { FoundEvent, Outcome } from '../outcome.js';
import type { RunState } from './run-state.js';
import type { SignalState } from './signal-chain.js';
import type { TrackerState } from './tracker-state.js';

/** The state of a reader at one sample; opaque plain data (numbers may be NaN, so not every JSON writer keeps it). */
export interface ReaderState extends SignalState {
  readonly run: RunState;
  readonly lidWatched: boolean;
  readonly lidOpen: boolean;
  readonly lastVerdict: Outcome['verdict'] | null;
  readonly recent: FoundEvent[];
  readonly tracker: TrackerState;
}
