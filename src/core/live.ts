import type { FoundEvent } from './outcome.js';

export type Phase = 'vented' | 'rising' | 'settling' | 'holding' | 'venting';

/** What is known of the run at this moment: what the page, the log and the alerts show. Plain data. */
export interface LiveView {
  /** s, time of the newest sample; `null` before the first. */
  readonly time: number | null;
  /** bar, the newest good reading; `null` when the newest sample cannot be trusted. */
  readonly pressure: number | null;
  readonly phase: Phase;
  /** s, when the present phase began. */
  readonly phaseSince: number | null;
  /** The phase as a sentence: 'rising, 38 bar below the band'. */
  readonly sentence: string;
  /** What would decide the verdict, one sentence each, the most urgent first. */
  readonly deciding: readonly string[];
  /** `pending` while a run is going on, the verdict of the last run once it is over, `null` before the first. */
  readonly verdict: 'pending' | 'pass' | 'fail' | 'inconclusive' | null;
  /** s left of the hold; `null` outside one. */
  readonly holdLeft: number | null;
  /** Start of hold, s. */
  readonly holdSince: number | null;
  /** Number of the present cycle, from 1, and how many the plan wants. */
  readonly cycle: number;
  readonly cycles: number;
  /** bar, highest real pressure of this run. */
  readonly peak: number | null;
  /** bar/s over the last seconds. */
  readonly slope: number | null;
  readonly strokes: number;
  /** Newest last, bounded. */
  readonly events: readonly FoundEvent[];
}
