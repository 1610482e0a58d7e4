import type { Bin } from './bins.js';
import type { SignalScale } from './signal-scale.js';
import type { CycleSettings, TrackerState } from './tracker-state.js';
import { forgetVented, isDraining } from './vented-reading.js';
import { addToZero, zeroAfterVent, zeroFall } from './zero-watch.js';

/** Half-seconds that are looked at together. */
const atRest = 10;

/**
 * A pressure let down after the hold that comes to rest above what counts as vented: the transducer's zero may have moved
 * that far, or pressure is left in the assembly.
 */
export interface LetDownState {
  /** The pressure is low enough, and the hold over. */
  watched: boolean;
  /** bar: where it came to rest; NaN while it has not. */
  level: number;
  /** s: since when it rests. */
  since: number;
}

export const freshLetDown = (): LetDownState => ({ watched: false, level: NaN, since: 0 });

/** Takes a bin above `ventPressure`. A level above `attemptPressure` may be a step of a vent or a new test. */
export function watchLetDown(s: TrackerState, { limits }: CycleSettings, scale: SignalScale, b: Bin): void {
  const l = s.letDown;
  const over = s.attempt ? s.hold.done : s.awaiting !== null;
  if (!over || b.mean >= limits.attemptPressure) {
    l.watched = false;
    return;
  }
  if (!l.watched) {
    Object.assign(l, freshLetDown(), { watched: true });
    forgetVented(s);
  }
  if (!addToZero(s.zero, b.time, b.mean) || s.zero.size < atRest) return;
  const fall = zeroFall(s.zero);
  if (isDraining(fall, b.mean - limits.zeroLimit, limits, scale)) l.level = NaN;
  // What is pumped up again has left its level, but had come to rest there.
  else if (!isDraining(-fall, 0, limits, scale)) {
    if (Number.isNaN(l.level)) l.since = b.last;
    l.level = zeroAfterVent(s.zero);
  }
}

/** s for which a pressure let down after the hold has rested above what counts as vented, at `now` (s); 0 where it does not. */
export const restedFor = ({ attempt, letDown: { watched, level, since } }: TrackerState, now: number): number =>
  attempt && watched && !Number.isNaN(level) ? now - since : 0;
