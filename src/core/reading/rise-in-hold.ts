import { lineThrough, type BinsState } from './bins.js';

/**
 * A rise during the hold, before it is known what it was. A stroke overshoots, and a knock or a stroke whose water runs
 * back through the check valve leaves nothing behind: what has lasted after a moment is what was added.
 */
export interface RiseInHold {
  /** s */ readonly from: number;
  readonly to: number;
  /** bar, as the stroke was seen, and the level it rose from. */
  readonly rise: number;
  readonly start: number;
  /** bar: what was left of it once its overshoot was over; NaN before. */
  readonly lasting: number;
}

/** s after its end until the overshoot of a stroke is over, and the span of the level from there on. */
const overshoot = 0.5;
const levelTime = 0.5;
/** s after its end by which a rise that adds nothing has gone back. */
const returnTime = 2;
/** Share of a rise that may be left of one that went back. */
const leftOver = 0.3;

/** What is known of the rise at `now` (s): its lasting part, as soon as it can be seen. */
export function watchRiseInHold(rise: RiseInHold, bins: BinsState, now: number): RiseInHold {
  const from = rise.to + overshoot;
  if (!Number.isNaN(rise.lasting) || now < from + levelTime) return rise;
  return { ...rise, lasting: lineThrough(bins, from, from + levelTime, from) - rise.start };
}

/** Enough has been seen of it. `interval` s is the usual spacing of readings. */
export const riseIsOver = (rise: RiseInHold, now: number, interval: number): boolean => now >= rise.to + Math.max(returnTime, 3 * interval);

/**
 * bar that the rise added, judged at `at` (s); 0 where the pressure went back to where it was.
 * @param least bar, the smallest rise that counts
 */
export function addedBy(rise: RiseInHold, bins: BinsState, at: number, interval: number, least: number): number {
  const left = at > rise.to ? lineThrough(bins, Math.max(rise.to, at - Math.max(levelTime, 1.5 * interval)), at, at) - rise.start : rise.rise;
  if (left < least && left < leftOver * rise.rise) return 0;
  return rise.lasting >= least ? Math.min(rise.rise, rise.lasting) : rise.rise;
}
