import type { CycleRecord } from './cycle-record.js';
import type { FitWindowState } from './fit-window.js';
import type { HoldState } from './hold-watch.js';

const known = (value: number): number | null => (Number.isNaN(value) ? null : value);

/** Puts what the hold came to into the record of its cycle. */
export function recordHold(r: CycleRecord, hold: HoldState, fit: FitWindowState): void {
  r.holdDone = hold.done;
  r.holdEnd = hold.done ? hold.to : hold.seenTo;
  r.holdStart = known(hold.start);
  r.holdMinimum = known(hold.lowest) ?? r.holdStart;
  r.holdMinimumAt = Number.isNaN(hold.lowest) ? r.settled : hold.lowestAt;
  r.breachDepth = hold.breachDepth;
  if (r.holdStart !== null) r.drop = Number.isNaN(hold.lowestWithout) ? 0 : Math.max(0, r.holdStart - hold.lowestWithout);
  r.fitTimes = fit.times.slice();
  r.fitMeans = fit.means.slice();
  r.fitCounts = fit.counts.slice();
}
