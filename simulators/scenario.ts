import type { Rule, Verdict } from '../src/core/outcome.js';
import type { Instrument } from '../src/core/trace.js';
import type { BenchSetup } from './bench.js';
import type { Moment } from './operator.js';
import type { Random } from './random.js';
import type { SignalFault, TransducerSettings } from './transducer.js';

/** A plan or thresholds as a person writes them: what `parsePlan` and `parseThresholds` take. */
export type Written = Readonly<Record<string, unknown>>;

/** Everything that one run of a scenario is made of. */
export interface ScenarioSetup {
  readonly plan: Written;
  /** Absent: the standard ones. */
  readonly thresholds?: Written;
  readonly instrument: Instrument;
  readonly bench: Omit<BenchSetup, 'testPressure' | 'holdTime' | 'floor' | 'reach' | 'settling'>;
  readonly transducer: TransducerSettings;
  readonly faults: readonly SignalFault[];
  /** The recording covers only this part of what happened. */
  readonly cut?: { readonly from?: Moment; readonly to?: Moment };
}

/** A named family of runs; the seed varies hose, pump, transducer and sizes within the family. */
export interface Scenario {
  readonly name: string;
  /** One line for people. */
  readonly summary: string;
  /** What the family is meant to come to (`null` as rule for a pass); `null` for a family that straddles a limit. Each run's truth is computed, not taken from here. */
  readonly intends: { readonly verdict: Verdict; readonly rule: Rule | null } | null;
  build(random: Random): ScenarioSetup;
}
