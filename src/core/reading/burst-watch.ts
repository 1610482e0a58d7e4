import type { ReadingLimits } from '../thresholds.js';
import { binAt, binWidth, type BinsState } from './bins.js';
import type { CycleRecord } from './cycle-record.js';
import type { TrackerState } from './tracker-state.js';

/** s between samples from which a burst can no longer be told from a quick vent. */
const tooSlow = 0.5;

/**
 * Has the pressure just been lost suddenly? A fall by `burstFraction` of the level it began from, within `burstTime`; at
 * slower sampling by as much more as one interval is longer. `null` where not.
 */
export function burstAt(s: TrackerState, limits: ReadingLimits, interval: number, time: number, pressure: number): CycleRecord['burst'] {
  const reference = s.fall.falling ? Math.max(s.fall.level, s.recentHigh) : s.recentHigh;
  const fall = s.recentHigh - pressure;
  if (s.recentHigh < limits.attemptPressure) return null;
  const span = Math.max(limits.burstTime, interval);
  const needed = (during: number): number => (1 - (1 - limits.burstFraction) ** (during / limits.burstTime)) * reference;
  // Readings that each have a bin of their own may show two intervals' loss at once.
  const during = interval > binWidth ? Math.max(span, time - s.highAt) : span;
  const sudden = fall > needed(during) && !tookLonger(s, span, interval, time);
  if (!sudden && !(fall > needed(span) && inOneStep(s.bins, needed(span), interval, time, pressure))) return null;
  const at = lastTimeAbove(s.bins, s.recentHigh - 0.1 * fall, time, interval);
  return { at, pressure: s.recentHigh, to: pressure, within: time - at, unclear: interval > tooSlow };
}

/**
 * Did the fall take longer than the clock of arrival shows? Readings that waited somewhere (a host that was busy, an
 * adapter that gathers) come at once, and an ordinary vent looks sudden; their number still tells how long it took. And
 * of a fall that came after a silence nobody saw how quick it was.
 */
function tookLonger(s: TrackerState, span: number, interval: number, time: number): boolean {
  const elapsed = time - s.highAt;
  if (elapsed > Math.max(span + 0.1, 2.1 * interval)) return true;
  const made = s.sinceHigh * interval;
  return s.sinceHigh > 2 && elapsed < 0.6 * made && made > span + 0.03;
}

/**
 * Was so much (bar) lost from one reading to the next, each in a bin of its own? A slow instrument may read in the middle
 * of a burst: its two steps take longer together than a burst may.
 */
function inOneStep(bins: BinsState, much: number, interval: number, time: number, pressure: number): boolean {
  if (bins.size === 0 || bins.open.count > 1) return false;
  const newest = binAt(bins, 0);
  return bins.count[newest] === 1 && time - (bins.time[newest] as number) <= 1.5 * interval && (bins.mean[newest] as number) - pressure > much;
}

/** Time of the last bin (or sample before the newest of the open one) that was still above `level`. */
function lastTimeAbove(bins: BinsState, level: number, now: number, interval: number): number {
  if (bins.open.count > 1 && bins.open.highest > level) return Math.max(bins.open.first, Math.min(bins.open.last, now) - interval);
  for (let back = 0; back < bins.size; back++) {
    const i = binAt(bins, back);
    if ((bins.highest[i] as number) > level) return bins.time[i] as number;
  }
  return now;
}
