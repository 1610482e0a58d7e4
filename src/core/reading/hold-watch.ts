import { lineThrough, type Bin, type BinsState } from './bins.js';
import { addToFit, type FitWindowState } from './fit-window.js';
import { addToMedian, copyOfMedian, freshMedian, medianNow, oldestOf, type SlidingMedian } from './sliding-median.js';

/**
 * What happens during the hold. Bins arrive half a second late and not while a fall or a rise is still unexplained,
 * so that the beginning of a vent is never taken for a loss.
 */
export interface HoldState {
  active: boolean;
  done: boolean;
  /** s: start and planned end. */
  from: number;
  to: number;
  /** s: last sample that counted. */
  seenTo: number;
  /** bar, settled level at the start; NaN until a second of hold was seen. */
  start: number;
  /** bar: lowest pressure that lasted for the breach time, as read, and with the rise of top-ups taken off again. */
  lowest: number;
  lowestAt: number;
  lowestWithout: number;
  /** bar, level at the end of the planned hold; NaN before. */
  end: number;
  /** bar: rise of all top-ups so far. */
  added: number;
  topUpAt: number[];
  topUpTo: number[];
  topUpRise: number[];
  topUpsApplied: number;
  /** s: the one rise that went back to where it came from; what was read meanwhile tells nothing of a leak. */
  returned: { readonly from: number; readonly to: number } | null;
  /** s and bar: first stay below the minimum that lasted longer than the breach time. */
  breachAt: number;
  breachDepth: number;
  /** The last two breach times: their median is what has lasted for one of them. */
  lasting: SlidingMedian;
  /** The same with the rise of top-ups taken off; `null` before the first. */
  lastingWithout: SlidingMedian | null;
}

export const freshHold = (): HoldState => ({
  active: false, done: false, from: 0, to: 0, seenTo: 0, start: NaN, lowest: NaN, lowestAt: 0, lowestWithout: NaN, end: NaN,
  added: 0, topUpAt: [], topUpTo: [], topUpRise: [], topUpsApplied: 0, returned: null, breachAt: NaN, breachDepth: 0,
  lasting: freshMedian(), lastingWithout: null,
});

export interface HoldSettings {
  /** s */ readonly holdTime: number;
  /** s */ readonly breachTime: number;
  /** bar, or NaN where the plan has none. */ readonly minimum: number;
}

export function beginHold(s: HoldState, set: HoldSettings, at: number): void {
  Object.assign(s, freshHold());
  s.active = true;
  s.from = at;
  s.to = at + set.holdTime;
  s.seenTo = at;
}

/** s after a stroke in which its overshoot is no level of the hold. */
const overshoot = 0.5;

/** s around a moment over which a level is taken: a second, and never fewer than about three samples. */
export const levelSpan = (interval: number): number => Math.max(1, 2.5 * interval);

/** A rise during the hold (s, s, bar) that lasted. */
export function noteTopUp(s: HoldState, from: number, to: number, rise: number): void {
  s.topUpAt.push(from);
  s.topUpTo.push(to);
  s.topUpRise.push(rise);
}

/** Takes a bin of the hold. `interval` s is the usual spacing of samples; `bins` serves to look back for levels. */
export function stepHold(s: HoldState, set: HoldSettings, bins: BinsState, fit: FitWindowState, interval: number, bin: Bin): void {
  if (s.done) return;
  const span = levelSpan(interval);
  if (Number.isNaN(s.start) && bin.last >= s.from + span) s.start = lineThrough(bins, s.from - span, s.from + span, s.from);
  if (bin.first > s.to + 1e-7) {
    if (s.seenTo >= s.to - 1.5 * interval) {
      finishHold(s, bins, interval);
      return;
    }
    // Readings came late and in a bunch: what was still up after the planned end completes the hold, and counts.
    s.to = bin.last;
  }
  while (s.topUpsApplied < s.topUpAt.length && bin.time > (s.topUpAt[s.topUpsApplied] as number)) {
    s.added += s.topUpRise[s.topUpsApplied] as number;
    s.topUpsApplied++;
    s.lastingWithout ??= copyOfMedian(s.lasting);
  }
  s.seenTo = bin.last;
  const inRise = s.topUpsApplied > 0 && bin.time <= (s.topUpTo[s.topUpsApplied - 1] as number) + overshoot;
  const goneBack = s.returned !== null && bin.time >= s.returned.from && bin.time <= s.returned.to;
  if (!inRise && !goneBack) addToFit(fit, bin.time, bin.mean - s.added, bin.count);
  slide(s, set, interval, bin, inRise);
  // The last sample of the planned hold completes it.
  if (s.seenTo >= s.to - 1e-7) finishHold(s, bins, interval);
}

function finishHold(s: HoldState, bins: BinsState, interval: number): void {
  const span = 2 * levelSpan(interval);
  s.end = lineThrough(bins, Math.max(s.to - span, s.from), s.to, s.to);
  if (Number.isNaN(s.start)) s.start = lineThrough(bins, s.from - span, s.from + span, s.from);
  s.done = true;
  s.active = false;
  if (!(s.end >= s.lowest)) {
    s.lowest = s.end;
    s.lowestAt = s.to;
  }
  if (!(s.end - s.added >= s.lowestWithout)) s.lowestWithout = s.end - s.added;
  if (!(s.start >= s.lowest)) {
    s.lowest = s.start;
    s.lowestAt = s.from;
  }
}

/**
 * Median over two breach times, sliding: the pressure was at or below it for one breach time, so the lowest of them is the
 * lowest pressure that lasted, and a short dip is none.
 * @param inRise a stroke is going on: its rise cannot be taken off the pressure yet
 */
function slide(s: HoldState, set: HoldSettings, interval: number, bin: Bin, inRise: boolean): void {
  const width = Math.max(2 * set.breachTime, 2.5 * interval);
  addToMedian(s.lasting, bin.time, bin.mean, width);
  if (s.lastingWithout !== null && !inRise) addToMedian(s.lastingWithout, bin.time, bin.mean - s.added, width);
  const oldest = oldestOf(s.lasting);
  if (bin.time - oldest < 0.9 * width - interval) return;
  const level = medianNow(s.lasting);
  if (!(level >= s.lowest)) {
    s.lowest = level;
    s.lowestAt = bin.time;
  }
  const without = s.lastingWithout === null ? level : medianNow(s.lastingWithout);
  if (!(without >= s.lowestWithout)) s.lowestWithout = without;
  if (level < set.minimum) {
    if (Number.isNaN(s.breachAt)) s.breachAt = Math.max(oldest, bin.time - width / 2);
    if (set.minimum - level > s.breachDepth) s.breachDepth = set.minimum - level;
  }
}
