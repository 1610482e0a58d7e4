import type { Bin } from './bins.js';
import type { SignalScale } from './signal-scale.js';
import type { CycleSettings, TrackerState } from './tracker-state.js';
import { addToZero, clearZero, zeroAfterVent, zeroDrift } from './zero-watch.js';

/** s after which a vented reading that has not come to rest is taken as it is, and what it waits for at least. */
const longestWait = 15;
const shortestWait = 3;

/** Takes up a bin of the vented bench, as long as it still belongs to the vented reading. */
export function addVented(s: TrackerState, { limits }: CycleSettings, { moving }: SignalScale, b: Bin, sigma: number): void {
  s.begun = true;
  s.ventedBins += b.count;
  // A rise that starts softly (trapped air) must not creep into the vented reading; one that stays up is the new one.
  if (s.lastQuietKnown && b.time - s.lastQuiet > longestWait) forgetVented(s);
  if (Number.isNaN(s.zeroNow) || b.mean <= s.zeroNow + Math.max(5 * sigma, 0.5 * limits.strokeHeight)) {
    if (addToZero(s.zero, b.time, b.mean)) s.zeroNow = zeroAfterVent(s.zero);
    s.lastQuiet = b.last;
    s.quietNoise = moving;
    s.lastQuietKnown = true;
  }
}

/** The vented reading begins anew. */
export function forgetVented(s: TrackerState): void {
  clearZero(s.zero);
  s.zeroNow = NaN;
}

/** Gives the last cycle its vented reading once it has come to rest: three seconds on, at most fifteen; at once if `now`. */
export function takeVented(s: TrackerState, { limits: { zeroLimit } }: CycleSettings, now: boolean): void {
  if (s.awaiting === null) return;
  const waited = s.lastBin - s.ventedSince;
  const calm = Math.abs(zeroDrift(s.zero)) < 0.2 * zeroLimit;
  if (!now && !(waited >= shortestWait && calm) && waited < longestWait) return;
  const zero = zeroAfterVent(s.zero);
  s.awaiting.zeroAfter = Number.isNaN(zero) || !calm || s.phase !== 'vented' ? null : zero;
  s.awaiting = null;
}
