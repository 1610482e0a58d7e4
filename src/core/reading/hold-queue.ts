import type { FoundEvent } from '../outcome.js';
import type { Bin } from './bins.js';
import { stepHold } from './hold-watch.js';
import type { SignalScale } from './signal-scale.js';
import type { CycleSettings, TrackerState } from './tracker-state.js';

/** Hands the waiting bins that end by `time` (s) to the hold; the first lasting stay below the minimum, if that began. */
export function consumeHold(s: TrackerState, set: CycleSettings, scale: SignalScale, time: number): FoundEvent | null {
  const { hold, pending, record } = s;
  if (!hold.active || pending.length === 0) return null;
  const settings = { holdTime: set.holdTime, breachTime: set.limits.breachTime, minimum: set.minimum };
  let n = 0;
  while (n < pending.length && (pending[n] as Bin).last <= time && hold.active) {
    stepHold(hold, settings, s.bins, s.fit, scale.interval, pending[n] as Bin);
    s.opening?.bins.push(pending[n] as Bin);
    n++;
  }
  pending.splice(0, hold.active ? n : pending.length);
  if (hold.done && record.holdNoise === null) record.holdNoise = scale.moving;
  if (Number.isNaN(hold.breachAt) || record.breachAt !== null) return null;
  record.breachAt = hold.breachAt;
  return { kind: 'breach', at: hold.breachAt, height: hold.breachDepth, pressure: hold.lowest };
}
