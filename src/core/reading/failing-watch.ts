/**
 * A stretch of readings that the transducer itself shows to be no pressure: out of its range, at fault, or a number below
 * what a gauge can read. What a line lost on the way does not count.
 */
export interface FailingState {
  /** s: first and newest of them; NaN where the newest reading is good. */
  since: number;
  to: number;
  /** Those with a number, and the sum of these, bar. */
  count: number;
  sum: number;
}

export const freshFailing = (): FailingState => ({ since: NaN, to: NaN, count: 0, sum: 0 });

/** s: shorter is a disturbance. */
const lasting = 3;

/** One more of them: s, bar (NaN where it has no number). */
export function addFailing(s: FailingState, time: number, level: number): void {
  if (Number.isNaN(s.since)) s.since = time;
  s.to = time;
  if (!Number.isFinite(level)) return;
  s.count++;
  s.sum += level;
}

/** s for which it has been failing; 0 below three seconds. */
export const failingFor = ({ since, to }: FailingState): number => (to - since >= lasting ? to - since : 0);

/** Since when (s), and the number it gave on average (bar), if it gave one. */
export const asFailed = ({ since, count, sum }: FailingState): { at: number; level: number | null } =>
  ({ at: since, level: count > 0 ? sum / count : null });
