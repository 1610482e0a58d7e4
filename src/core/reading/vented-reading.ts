import { lineThrough, type Bin } from './bins.js';
import type { SignalScale } from './signal-scale.js';
import type { CycleSettings, TrackerState } from './tracker-state.js';
import { addToZero, clearZero, zeroAfterVent, zeroBeforeRise, zeroClimb, zeroDrift, zeroOfOld } from './zero-watch.js';

/** s after which a reading that stays up is the new vented one; longer where strokes brought it up. */
const newReading = 15;
const newAfterStroke = 60;
const levelFor = 10;

/** s after which a vented reading that has not come to rest is taken as it is, and what it waits for at least. */
const longestWait = 15;
const shortestWait = 3;

/** Takes up a bin of the vented bench, as long as it still belongs to the vented reading. */
export function addVented(s: TrackerState, { limits }: CycleSettings, { moving }: SignalScale, b: Bin, sigma: number): void {
  s.begun = true;
  s.ventedBins += b.count;
  // A rise that starts softly (trapped air) must not creep into the vented reading; one that stays up is the new one.
  const climb = Math.max(5 * sigma, 0.5 * limits.strokeHeight);
  if (s.lastQuietKnown && b.time - s.lastQuiet > newReading && b.time - (s.early.at(-1)?.to ?? -Infinity) > newAfterStroke && isLevel(s, b, climb)) forgetVented(s);
  if (Number.isNaN(s.zeroNow) || b.mean <= s.zeroNow + climb) {
    if (addToZero(s.zero, b.time, b.mean)) s.zeroNow = zeroOfOld(s.zero);
    s.lastQuiet = b.last;
    if (s.early.length > 0) s.early.length = 0;
    s.quietNoise = moving;
    s.lastQuietKnown = true;
  }
}

/** Has the reading stayed where it is for ten seconds? */
function isLevel(s: TrackerState, b: Bin, climb: number): boolean {
  const before = lineThrough(s.bins, b.time - levelFor - 1, b.time - levelFor, b.time - levelFor);
  return Math.abs(b.mean - before) <= climb;
}

/** bar, the vented reading before a rise; NaN where it was not seen, or climbed all the while (air that the first strokes press together). */
export function ventedBeforeRise(s: TrackerState, { limits }: CycleSettings, sigma: number): number {
  return zeroClimb(s.zero) > Math.max(5 * sigma, 0.5 * limits.strokeHeight) ? NaN : zeroBeforeRise(s.zero);
}

/** The vented reading begins anew. */
export function forgetVented(s: TrackerState): void {
  s.early.length = 0;
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
