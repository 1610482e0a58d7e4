import type { Outcome, Verdict } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import type { Job } from '../records/job.js';
import type { PlanLines } from '../sinks/live-protocol.js';
import type { Distribution } from '../statistics/distribution.js';
import type { EwmaChart } from '../statistics/ewma-chart.js';
import type { IndividualsLimits } from '../statistics/individuals-chart.js';
import type { RuleBroken } from '../statistics/run-rules.js';
import type { Proportion } from '../statistics/wilson-interval.js';

/** A run as the list of found runs shows it. */
export interface FoundRun {
  readonly run: number;
  readonly state: 'open' | 'finished' | 'interrupted';
  /** ms since 1970. */
  readonly wall: number;
  /** s from first to last sample; `null` while it is going on. */
  readonly length_s: number | null;
  /** With everything said since; `null` while it is going on. */
  readonly result: Verdict | null;
  /** As it was sealed, where that differs from the result. */
  readonly sealed: Verdict | null;
  readonly plan: string | null;
  readonly order: string | null;
  readonly customer: string | null;
  readonly hose: string | null;
  readonly operator: string | null;
  readonly assemblies: readonly string[];
  readonly retestOf: number | null;
  /** bar */ readonly peak_bar: number | null;
  /** bar */ readonly drop_bar: number | null;
  readonly leak_bar_per_min: number | null;
  /** Why it is no pass; `null` for a pass. */
  readonly reason: string | null;
}

export interface FoundRuns {
  readonly runs: readonly FoundRun[];
  /** Runs from here down were not looked at yet; `null` when all were. */
  readonly next: number | null;
  /** Runs looked at for this answer. */
  readonly looked: number;
  /** Runs on record, all together. */
  readonly onRecord: number;
}

/** Everything about one run but its trace and what `about` says. */
export interface RunDetail {
  readonly run: number;
  readonly bench: string;
  readonly state: 'open' | 'finished' | 'interrupted';
  /** s on the store's clock, first and last sample. */
  readonly from: number;
  readonly to: number;
  /** s, how far the trace reaches that was read to judge it. */
  readonly readFrom: number;
  readonly readTo: number;
  /** ms since 1970, of `from`. */
  readonly wall: number;
  readonly result: Verdict;
  readonly sealed: Verdict;
  readonly outcome: Outcome;
  readonly reasons: readonly string[];
  readonly plan: Plan | null;
  /** What the trace is drawn with. */
  readonly lines: PlanLines | null;
  readonly versions: { readonly plan: string | null; readonly thresholds: string; readonly software: string; readonly instrument: string | null; readonly seal: string | null };
  /** s between samples above which the line is broken. */
  readonly gap: number;
  readonly job: Job | null;
  readonly traceRemoved: boolean;
  /** Other runs that named one of its assemblies. */
  readonly others: readonly { readonly run: number; readonly serial: string }[];
}

/** A stretch of a trace for drawing, in order of time. */
export interface TraceStretch {
  readonly from_s: number;
  readonly to_s: number;
  /** s, width of a column; 0 where every sample is there. */
  readonly column_s: number;
  readonly time_s: readonly number[];
  /** `null` breaks the line. */
  readonly pressure_bar: readonly (number | null)[];
}

export interface Counts {
  readonly pass: number;
  readonly fail: number;
  readonly inconclusive: number;
  /** Pass among pass and fail; `null` where there is neither. */
  readonly rate: Proportion | null;
}

/** A plan and a hose that were tested. */
export interface Group {
  readonly plan: string;
  readonly hose: string;
  readonly first: Counts;
  readonly retests: Counts;
  /** ms since 1970, the newest run. */
  readonly newest: number;
}

export interface Groups {
  readonly groups: readonly Group[];
  /** Runs looked at, and older ones that were not. */
  readonly looked: number;
  readonly leftOut: number;
}

export interface StatisticsPoint {
  readonly run: number;
  readonly wall: number;
  readonly value: number | null;
  readonly result: Verdict;
  readonly assemblies: number;
  readonly retest: boolean;
  /** Content hash of the plan by which it is judged. */
  readonly planVersion: string | null;
}

/** Statistics of one plan and hose; values in bar (drop) or bar/min (leak). */
export interface Statistics {
  readonly plan: string;
  readonly hose: string;
  readonly measure: 'leak' | 'drop';
  readonly unit: 'bar' | 'bar/min';
  readonly first: Counts;
  readonly retests: Counts;
  /** First tests, assembly by assembly. */
  readonly assemblies: Counts & { readonly retestAlone: number };
  readonly points: readonly StatisticsPoint[];
  /** Of the first tests that passed or failed. */
  readonly distribution: Distribution | null;
  readonly chart: ControlChart | null;
  /** The plan's own limit of the measure where it is one number. */
  readonly limit: number | null;
  readonly sentences: readonly string[];
  readonly rules: Readonly<Record<string, string>>;
  readonly leftOut: number;
}

/** Over the first tests that passed or failed and have a value, in order. */
export interface ControlChart {
  /** Indexes into `points`. */
  readonly at: readonly number[];
  /** How many of the first passed tests gave the limits. */
  readonly baseline: number;
  readonly limits: IndividualsLimits;
  readonly ranges: readonly number[];
  readonly ewma: EwmaChart & { readonly weight: number };
  /** `at` counts within the chart. */
  readonly broken: readonly RuleBroken[];
}

