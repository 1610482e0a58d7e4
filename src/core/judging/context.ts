import type { Finding, Rule, RuleOutcome } from '../outcome.js';
import type { Plan } from '../plan.js';
import type { CycleRecord } from '../reading/cycle-record.js';
import type { ReadingLimits } from '../thresholds.js';
import type { Instrument } from '../trace.js';
import type { CycleLeak } from './leak-of-cycle.js';

/** Everything that a rule may look at. Times on the trace's clock (s), pressures in bar. */
export interface RunContext {
  readonly plan: Plan;
  readonly limits: ReadingLimits;
  readonly instrument: Instrument;
  /** bar: what pressures are rounded to before they are compared. */
  readonly step: number;
  /** bar, `null` where no two different readings were seen. */
  readonly resolution: number | null;
  /** bar: smallest step between neighbouring readings, 0 where none was seen. */
  readonly seenStep: number;
  /** bar, noise of a sample. */
  readonly noise: number;
  /** s, usual spacing of samples. */
  readonly interval: number;
  readonly cycles: readonly CycleRecord[];
  /** A unit that the readings would fit, where they cannot be bar. */
  readonly suspectedUnit: string | null;
  readonly lidWatched: boolean;
  /** s: the zero of the reader's clock on the trace's. */
  readonly origin: number;
  /** What the acquisition noticed; `at` in s on the trace's clock. */
  readonly doubts: readonly { readonly at: number; readonly text: string }[];
}

export interface CycleContext extends RunContext {
  readonly cycle: CycleRecord;
  readonly leak: CycleLeak | null;
}

interface Measured {
  readonly measured?: number | null;
  readonly limit?: number | null;
  readonly unit?: string;
  readonly uncertainty?: number | null;
  readonly at?: number | null;
}

/** A finding; what is not said is `null`. */
export function finding(rule: Rule, outcome: RuleOutcome, sentence: string, m: Measured = {}): Finding {
  return {
    rule,
    outcome,
    measured: m.measured ?? null,
    limit: m.limit ?? null,
    unit: m.unit ?? 'bar',
    uncertainty: m.uncertainty ?? null,
    at: m.at ?? null,
    sentence,
  };
}
