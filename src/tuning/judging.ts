import type { Outcome, Verdict } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import type { Thresholds } from '../core/thresholds.js';

/** What a run is judged by. */
export interface Judging {
  readonly plan: Plan | null;
  readonly thresholds: Thresholds;
}

/** What is tried in the place of what a run was judged by; what is absent stays the run's own. */
export interface Candidate {
  readonly plan?: Plan;
  readonly thresholds?: Thresholds;
  /** Single thresholds that take the place of those of the run, or of `thresholds`. */
  readonly changes?: Partial<Thresholds>;
}

/** The judging of a run once a candidate has taken the place of its own. */
export const judgingBy = (own: Judging, { plan, thresholds, changes }: Candidate): Judging => ({
  plan: plan ?? own.plan,
  thresholds: changes === undefined ? (thresholds ?? own.thresholds) : { ...(thresholds ?? own.thresholds), ...changes },
});

/** The outcome that decides among the runs found in one recording: the first of the worst; `null` where none was found. */
export function decisiveOutcome(outcomes: readonly Outcome[]): Outcome | null {
  const of = (verdict: Verdict) => outcomes.find((outcome) => outcome.verdict === verdict);
  return of('fail') ?? of('inconclusive') ?? of('pass') ?? null;
}
