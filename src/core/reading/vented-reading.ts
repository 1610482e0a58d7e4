import type { ReadingLimits } from '../thresholds.js';
import { lineThrough, type Bin } from './bins.js';
import type { CycleRecord } from './cycle-record.js';
import { asFailed, failingFor } from './failing-watch.js';
import type { SignalScale } from './signal-scale.js';
import type { CycleSettings, TrackerState } from './tracker-state.js';
import { addToZero, clearZero, fallSpan, zeroAfterVent, zeroBeforeRise, zeroClimb, zeroDrift, zeroFall, zeroOfOld } from './zero-watch.js';

/** s after which a reading that stays up is the new vented one; longer where strokes brought it up. */
const newReading = 15;
const newAfterStroke = 60;
const levelFor = 10;

/** s after which a vented reading within the limit is no longer waited for to come to rest, and what it waits for at least. */
const longestWait = 15;
const shortestWait = 3;
/** s from which on a look goes as far back as this. */
const laterLook = 5;
/** Standard errors that a fall of the vented reading must exceed. */
const surely = 5;

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

/**
 * Gives the last cycle its vented reading once it has come to rest within the limit, three seconds on. One that is off may
 * be a rest of pressure that still drains: it is looked at again until `runEnd`, a new rise, or the end of the recording
 * (`last`).
 */
export function takeVented(s: TrackerState, set: CycleSettings, scale: SignalScale, last: boolean): void {
  const r = s.awaiting;
  if (r === null) return;
  if (s.phase === 'vented') {
    if (!last && !mayTake(s, r, set)) return;
    noteVented(s, set, scale);
  } else {
    // It has crept up without a stroke: pressure in a shut-off assembly, or a zero just at `ventPressure`.
    if (!last && s.lastBin - s.awaitingSince < set.limits.runEnd) return;
    if (!Number.isNaN(s.letDown.level)) r.letDownTo = s.letDown.level;
  }
  giveUpVented(s);
}

/** No more is waited for: a transducer that has failed meanwhile leaves its zero unknown. */
export function giveUpVented(s: TrackerState): void {
  const r = s.awaiting;
  if (r !== null && r.holdDone && failingFor(s.failing) > 0) {
    r.failedAfter = asFailed(s.failing);
    // What it showed on its way out of its range is not its zero.
    r.zeroAfter = null;
  }
  s.awaiting = null;
}

function mayTake(s: TrackerState, r: CycleRecord, { limits }: CycleSettings): boolean {
  const waited = s.lastBin - s.ventedSince;
  // One that was off at first must stay within the limit for longer: noise alone would bring it there for a moment.
  const zero = zeroAfterVent(s.zero, waited < laterLook ? 2 : laterLook);
  if (Number.isNaN(zero)) return false;
  if (s.lastBin - s.awaitingSince >= limits.runEnd) return true;
  return waited >= (isCalm(s, limits) ? shortestWait : longestWait) && beyondLimit(r, zero, limits.zeroLimit) === 0;
}

const isCalm = ({ zero }: TrackerState, { zeroLimit }: ReadingLimits): boolean => Math.abs(zeroDrift(zero)) < 0.2 * zeroLimit;

/** The vented reading as it is now goes into the record of the cycle that awaits it. What still falls towards the limit tells nothing. */
export function noteVented(s: TrackerState, { limits }: CycleSettings, scale: SignalScale): void {
  const r = s.awaiting;
  if (r === null) return;
  const zero = zeroAfterVent(s.zero);
  const beyond = beyondLimit(r, zero, limits.zeroLimit);
  const fall = zeroFall(s.zero);
  const unsettled = Number.isNaN(fall) ? !isCalm(s, limits) : beyond > 0 && isDraining(fall, beyond, limits, scale);
  r.zeroAfter = Number.isNaN(zero) || unsettled ? null : zero;
  if (!Number.isNaN(zero)) r.letDownTo = null;
}

/** bar: by how much the vented reading lies beyond the limit; 0 where it is fine, or was off from the start. */
function beyondLimit({ zeroBefore }: CycleRecord, zero: number, limit: number): number {
  if (Number.isNaN(zero) || (zeroBefore !== null && Math.abs(zeroBefore) > limit)) return 0;
  return Math.max(0, Math.abs(zero) - limit, Math.abs(zero - (zeroBefore ?? zero)) - limit);
}

/** Does a reading that fell by `fall` (bar, see `zeroFall`) go on to fall, so fast that `beyond` (bar) is gone within `runEnd`? */
export function isDraining(fall: number, beyond: number, { zeroLimit, runEnd }: ReadingLimits, { sigma, resolution, interval }: SignalScale): boolean {
  const seen = Math.max(0.1 * zeroLimit, resolution, surely * sigma * Math.sqrt(interval / fallSpan));
  return fall > seen && (fall * runEnd) / fallSpan >= beyond;
}
