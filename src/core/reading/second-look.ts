import { beginHold, freshHold, stepHold, type HoldState } from './hold-watch.js';
import { freshFitWindow } from './fit-window.js';
import { holdStartSeenLater } from './hold-start.js';
import type { SignalScale } from './signal-scale.js';
import type { CycleSettings, TrackerState } from './tracker-state.js';

/** s by which the start may be moved back at most. */
const back = 8;

/** s into the hold after which its start is looked at again: one and a half settling windows, at most half of the hold. */
export const secondLook = ({ limits, holdTime }: CycleSettings): number => Math.min(1.5 * limits.settleWindow, holdTime / 2, 15);

/**
 * s, before the start as it was found at the time. Where the hold began because the loss was steady or grew, a leak that
 * began then bends every curve through all of it: only what was read up to so long before is looked at, and the curve is
 * drawn on to so long before.
 */
const shorter = [{ readTo: 0, until: 0 }, { readTo: 3.5, until: 0.5 }];

/** s; `null` where no curve says when. */
function startBy({ slots, hold, record }: TrackerState, { limits }: CycleSettings, since: number, now: number): number | null {
  const earliest = hold.from - back;
  const steady = record.settledBy === 'steady';
  // A loss that was steady has begun the hold, even if it slackens much later. And what the hold has not been handed yet must
  // not lie before its start.
  const whole = holdStartSeenLater(slots, limits, since, earliest, now, Math.min(now, hold.seenTo, steady ? hold.from + limits.settleWindow / 2 : Infinity));
  if (!steady) return whole;
  return shorter.reduce((start, { readTo, until }) => start ?? holdStartSeenLater(slots, limits, since, earliest, hold.from - readTo, hold.from - until), whole);
}

/**
 * Moves the start of a hold in which nothing has happened yet to where it is seen to lie some seconds later, and the
 * planned end with it. What the hold has seen so far is gone through once more from there.
 */
export function lookAgainAtStart(s: TrackerState, set: CycleSettings, scale: SignalScale, now: number): void {
  const { hold, opening, record } = s;
  s.opening = null;
  if (opening === null || !hold.active || hold.topUpAt.length > 0 || record.breachAt !== null) return;
  // A loss that already carries the pressure below what a hold needs bends every curve: the hold stays where it was found.
  if (s.lastBinMean < set.floor || opening.bins.some(({ mean }) => mean < set.floor)) return;
  const start = startBy(s, set, opening.since, now);
  if (start === null) return;
  const settings = { holdTime: set.holdTime, breachTime: set.limits.breachTime, minimum: set.minimum };
  const moved: HoldState = freshHold();
  beginHold(moved, settings, start);
  const unused = freshFitWindow();
  for (const bin of opening.bins) if (bin.first > start) stepHold(moved, settings, s.bins, unused, scale.interval, bin);
  s.hold = moved;
  s.record.settled = start;
  s.record.settledBy = 'slope';
  s.phaseSince = start;
}
