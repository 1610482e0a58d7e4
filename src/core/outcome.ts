/** What a run came to. The JSON of these types is the public format: later versions add fields, never change these. */

export type Verdict = 'pass' | 'fail' | 'inconclusive';
export type RuleOutcome = 'met' | 'broken' | 'undecided';

export const rules = [
  'reach', 'ceiling', 'rise', 'hold', 'minimum', 'drop', 'leak', 'top-up', 'burst', 'cycles', 'data', 'lid',
] as const;
export type Rule = (typeof rules)[number];

export const eventKinds = [
  'stroke', 'spike', 'glitch', 'overshoot', 'top-up', 'breach', 'burst', 'gap', 'saturation', 'flatline', 'zero-shift', 'lid-open',
] as const;
export type EventKind = (typeof eventKinds)[number];

/** Something found in the signal. */
export interface FoundEvent {
  readonly kind: EventKind;
  /** s, on the trace's own clock; for a spike or glitch the moment of its extreme. */
  readonly at: number;
  /** bar: rise of a stroke or top-up, height of a spike, signed height of a glitch, depth of a breach, size of a zero shift. */
  readonly height?: number;
  /** s: duration of what happened. */
  readonly width?: number;
  /** bar: the pressure at `at`, or for a burst the highest real pressure before it. */
  readonly pressure?: number;
  /** True where the sample rate is too low to tell electrical from hydraulic. */
  readonly unclear?: boolean;
  readonly note?: string;
}

/** One rule applied. */
export interface Finding {
  readonly rule: Rule;
  readonly outcome: RuleOutcome;
  /** As shown and as compared: rounded once to the instrument's resolution. `null` where nothing could be measured. */
  readonly measured: number | null;
  readonly limit: number | null;
  readonly unit: string;
  /** Expanded, 95 %; `null` where it plays no part. */
  readonly uncertainty: number | null;
  /** s, on the trace's own clock. */
  readonly at: number | null;
  readonly sentence: string;
  /** The cycle it was taken from, from 1; absent in a run of one cycle. */
  readonly cycle?: number;
}

export interface Leak {
  /** bar/min, positive when pressure is lost. */
  readonly rate: number;
  /** bar/min; `rate` +- 1.96 of it holds the leak with 95 %. */
  readonly standardError: number;
  /**
   * bar/min, with 95 % between these; not even around `rate` where a settling too slow to be seen may be part of it.
   * Absent in records made before it was told.
   */
  readonly lowest?: number;
  readonly highest?: number;
  /** Amplitude c of the settling, bar. */
  readonly settling: number;
  /** s */ readonly timeConstant: number;
  /** s; the moment a leak began in mid-hold, where one was found. */
  readonly startedAt?: number;
  /** ml/min, where the compliance is known. */
  readonly volumeRate?: number;
}

/** Times in s on the trace's own clock, pressures in bar. What did not come is `null`. */
export interface Cycle {
  readonly rising: number | null;
  readonly reached: number | null;
  readonly settled: number | null;
  readonly holdEnd: number | null;
  readonly vented: number | null;
  readonly peak: number | null;
  readonly holdStartPressure: number | null;
  readonly holdMinimum: number | null;
  readonly drop: number | null;
  readonly dropPercent: number | null;
  readonly strokes: number;
  readonly topUps: number;
  readonly leak: Leak | null;
  readonly verdict: Verdict;
}

/** The whole outcome of one run. */
export interface Outcome {
  readonly verdict: Verdict;
  readonly findings: readonly Finding[];
  readonly cycles: readonly Cycle[];
  readonly events: readonly FoundEvent[];
  /** What the outcome rests on and what it cannot say; each a sentence. */
  readonly notes: readonly string[];
  /** What was read: sampling interval in s, resolution and noise in bar, counts. */
  readonly signal: {
    readonly samples: number;
    readonly interval: number | null;
    readonly resolution: number | null;
    readonly noise: number | null;
    readonly missing: number;
    readonly duplicates: number;
    readonly backward: number;
  };
  readonly plan: string | null;
  readonly thresholds: string;
}

/** The worst outcome wins. An empty list is inconclusive: nothing checked is nothing proven. */
export function verdictOf(outcomes: readonly RuleOutcome[]): Verdict {
  if (outcomes.includes('broken')) return 'fail';
  return outcomes.length === 0 || outcomes.includes('undecided') ? 'inconclusive' : 'pass';
}

/** Process exit code of a verdict. */
export const exitCode: Readonly<Record<Verdict, number>> = { pass: 0, fail: 1, inconclusive: 3 };

/** The verdict of several runs together: the worst of them. */
export function worstVerdict(verdicts: readonly Verdict[]): Verdict {
  if (verdicts.includes('fail')) return 'fail';
  return verdicts.length === 0 || verdicts.includes('inconclusive') ? 'inconclusive' : 'pass';
}
