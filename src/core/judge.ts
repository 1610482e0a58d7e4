import type { Outcome } from './outcome.js';
import type { Plan } from './plan.js';
import type { Thresholds } from './thresholds.js';
import type { Instrument, Trace } from './trace.js';

/** Judges a recorded trace: one outcome for each run in it, at least one. Never throws on any numbers. */
export function judge(_trace: Trace, _plan: Plan | null, _thresholds: Thresholds, _instrument?: Instrument): Outcome[] {
  throw new Error('being built');
}
