/** What was seen of one pressurisation, before any rule is applied. Times in s on the reader's clock, pressures in bar. */
export interface CycleRecord {
  /** The recording (or its part after a gap) began under pressure. */
  startsPressurised: boolean;
  rising: number | null;
  reached: number | null;
  arrived: boolean;
  settled: number | null;
  settledBy: 'slope' | 'steady' | 'timeout' | null;
  /** Settled below the level that the hold needs. */
  settledBelow: { at: number; level: number } | null;
  holdEnd: number | null;
  holdDone: boolean;
  vented: number | null;
  /** How it ended; `null` while it goes on. */
  ended: 'vent' | 'burst' | 'emptied' | 'gap' | 'end' | null;
  endedAt: number | null;

  peak: number | null;
  peakAt: number | null;
  /** Highest pressure of excursions that the sample rate cannot tell from glitches. */
  doubtPeak: number | null;
  doubtPeakAt: number | null;
  /** That was a reading of a disturbed signal, one of many. */
  doubtInNoise?: boolean;

  holdStart: number | null;
  holdMinimum: number | null;
  holdMinimumAt: number | null;
  /** Loss from the start of hold, the rises of top-ups taken off. */
  drop: number | null;
  breachAt: number | null;
  breachDepth: number;
  topUps: { at: number; rise: number }[];

  strokes: number;
  /** Those that came after the test pressure was reached. */
  strokesAfter: number;
  lastPumping: number | null;
  /** Pressure and rise of the strokes, for the look at trapped air; bounded. */
  strokeFrom: number[];
  strokeRise: number[];
  /** A step down right after pumping stopped: water let back by a valve. */
  stepBack: { at: number; height: number; seconds: number } | null;
  steepest: { at: number; rate: number } | null;
  /** bar/s from a tenth to nine tenths of the test pressure. */
  meanRise: number | null;

  burst: { at: number; pressure: number; to: number; within: number; unclear: boolean; /** The vent contact said shut all the while. */ ventShut?: boolean } | null;
  /** Readings that are missing, or, where they have a `scatter` (bar), too disturbed to tell a pressure. */
  gaps: { from: number; to: number; scatter?: number }[];
  /** s: how much of the hold was left out because the signal was disturbed, though its level was plain. */
  disturbed?: number;
  /** Lowest reading seen right after a gap in which the pressure was lost. */
  lostInGap: { at: number; to: number; seconds: number } | null;
  /** Longest stretch of readings that did not move at all. */
  still: { from: number; to: number; pressure: number } | null;
  /** The vented reading before the rise moved by steps that no live signal loses under pressure. */
  lively: boolean;
  /** Readings under pressure that told a pressure, and that told none. */
  told: number;
  untold: number;
  saturatedAt: number | null;
  lidOpenAt: number | null;

  zeroBefore: number | null;
  zeroAfter: number | null;
  /** bar: after the hold the reading was let down to this, above what counts as vented, and stayed there. */
  letDownTo: number | null;
  /** After the hold the transducer told no pressure any more: since when, and the number it gave (bar) if it gave one. */
  failedAfter: { at: number; level: number | null } | null;
  /** Noise of a sample, bar: while vented before the rise, the quietest of the rise, and in the hold. */
  ventedNoise: number | null;
  rampNoise: number | null;
  holdNoise: number | null;
  /** Usual spacing of samples at the start of the hold. */
  interval: number;

  fitTimes: number[];
  fitMeans: number[];
  fitCounts: number[];
}

export const freshCycle = (): CycleRecord => ({
  startsPressurised: false, rising: null, reached: null, arrived: false, settled: null, settledBy: null, settledBelow: null,
  holdEnd: null, holdDone: false, vented: null, ended: null, endedAt: null, peak: null, peakAt: null, doubtPeak: null,
  doubtPeakAt: null, holdStart: null, holdMinimum: null, holdMinimumAt: null, drop: null, breachAt: null, breachDepth: 0,
  topUps: [], strokes: 0, strokesAfter: 0, lastPumping: null, strokeFrom: [], strokeRise: [], stepBack: null, steepest: null, meanRise: null,
  burst: null, gaps: [], lostInGap: null, still: null, lively: false, told: 0, untold: 0, saturatedAt: null, lidOpenAt: null, zeroBefore: null, zeroAfter: null, letDownTo: null, failedAfter: null,
  ventedNoise: null, rampNoise: null, holdNoise: null, interval: 0, fitTimes: [], fitMeans: [], fitCounts: [],
});
