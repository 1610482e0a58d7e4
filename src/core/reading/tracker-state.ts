import type { Phase } from '../live.js';
import type { FoundEvent } from '../outcome.js';
import type { ReadingLimits } from '../thresholds.js';
import { freshBins, type Bin, type BinsState } from './bins.js';
import { freshContacts, type ContactsState } from './contacts.js';
import { freshCycle, type CycleRecord } from './cycle-record.js';
import { freshFall, type FallState } from './fall-watch.js';
import { freshFitWindow, type FitWindowState } from './fit-window.js';
import { freshRecovery, type RecoveryState } from './recovery.js';
import type { RiseInHold } from './rise-in-hold.js';
import { freshHold, type HoldState } from './hold-watch.js';
import { freshSmallStrokes, type SmallStrokes } from './small-strokes.js';
import { freshLetDown, type LetDownState } from './let-down.js';
import { freshFailing, type FailingState } from './failing-watch.js';
import { freshSettling, type SettlingState } from './slots.js';
import { freshStroke, type StrokeState } from './stroke-detector.js';
import { freshZero, type ZeroState } from './zero-watch.js';

/** What the plan asks of the reading, in bar and s. */
export interface CycleSettings {
  readonly limits: ReadingLimits;
  readonly testPressure: number;
  /** bar: from here the test pressure counts as reached. */
  readonly reach: number;
  /** bar: the settled pressure must still be here for the hold to begin. */
  readonly floor: number;
  readonly holdTime: number;
  /** bar; NaN where the plan has no minimum. */
  readonly minimum: number;
}

export interface CycleSink {
  found(event: FoundEvent): void;
  /** A pressurisation has become a test; `at` is its first rise. */
  attempt(at: number): void;
  cycleEnded(record: CycleRecord): void;
  /** The pressure rose (bar) during the hold while the pump contact was off: no top-up. */
  unpumped(at: number, rise: number): void;
}

/** A stroke (s, s, bar, bar) before the pressure counted as raised. */
export interface EarlyStroke {
  readonly from: number;
  readonly to: number;
  readonly rise: number;
  readonly start: number;
}

export interface TrackerState {
  phase: Phase;
  phaseSince: number;
  /** The first bin has been looked at. */
  begun: boolean;
  /** Under pressure, and high enough to be a test. */
  attempt: boolean;
  record: CycleRecord;
  /** The last cycle that ended, while its vented reading is awaited. */
  awaiting: CycleRecord | null;
  /** s: since when it is awaited. */
  awaitingSince: number;
  ventedSince: number;
  lastQuiet: number;
  lastQuietKnown: boolean;
  /** s: since when bins have been in the band; NaN while they are not. */
  inBandSince: number;
  firstInBand: number;
  lastActivity: number;
  tenthAt: number;
  recentHigh: number;
  /** s: last reading near `recentHigh`, and how many have come since. */
  highAt: number;
  sinceHigh: number;
  lastBin: number;
  lastBinMean: number;
  /** Highest purging pressure, while no test has been seen. */
  purgePeak: number;
  /** bar: noise while vented, as learned up to the rise; 0 where the vented reading was not seen long enough. */
  noiseBeforeRise: number;
  ventedBins: number;
  /** bar: the vented reading as it stands; NaN below a second of it. */
  zeroNow: number;
  quietNoise: number;
  /** Strokes on a bench that still counts as vented: air is pressed together first. */
  early: EarlyStroke[];
  bins: BinsState;
  strokes: StrokeState;
  fall: FallState;
  slots: SettlingState;
  hold: HoldState;
  fit: FitWindowState;
  zero: ZeroState;
  /** Bins of the hold that wait for their turn. */
  pending: Bin[];
  /** What the hold had in its first seconds, after pumping that ended at `since` (s), while its start may still be moved. */
  opening: { readonly since: number; readonly bins: Bin[] } | null;
  contacts: ContactsState;
  /** A rise during the hold that may go back. */
  rise: RiseInHold | null;
  small: SmallStrokes;
  letDown: LetDownState;
  failing: FailingState;
  recovery: RecoveryState;
}

export const freshTracker = (): TrackerState => ({
  phase: 'vented', phaseSince: 0, begun: false, attempt: false, record: freshCycle(), awaiting: null, awaitingSince: 0, ventedSince: 0,
  lastQuiet: 0, lastQuietKnown: false, inBandSince: NaN, firstInBand: NaN, lastActivity: 0, tenthAt: NaN, recentHigh: 0, highAt: 0, sinceHigh: 0,
  lastBin: 0, lastBinMean: NaN, purgePeak: 0, noiseBeforeRise: 0, ventedBins: 0, zeroNow: NaN, quietNoise: 0, early: [], bins: freshBins(), strokes: freshStroke(), fall: freshFall(),
  slots: freshSettling(), hold: freshHold(), fit: freshFitWindow(), zero: freshZero(), pending: [], opening: null, contacts: freshContacts(), rise: null, small: freshSmallStrokes(),
  letDown: freshLetDown(), failing: freshFailing(), recovery: freshRecovery(),
});
