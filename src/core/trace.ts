import type { Conversion } from './conversion.js';

/**
 * Why a sample is not a number to trust. Bits of the `flags` of a sample; 0 is a good sample.
 * A flagged sample keeps its place in time and its raw reading, and is never replaced by 0 or by the last value.
 */
export const Flag = {
  good: 0,
  /** No number could be read (garbage, word, NaN, exception, time-out). */
  unreadable: 1,
  /** The instrument said over range, or the loop current is above what NE 43 allows. */
  overRange: 2,
  /** The instrument said under range, or the loop current is below what NE 43 allows. */
  underRange: 4,
  /** The transducer, its input or its cable reports a fault. */
  fault: 8,
  /** Pressure at the upper end of what the transducer can show. */
  saturated: 16,
  /** A number that cannot be a pressure of this channel (beyond 1.5 x range, below vacuum). */
  implausible: 32,
} as const;

/** One reading. Time in s on a clock that never steps back; pressure in bar, calibrated; flags as `Flag` bits. */
export interface Sample {
  readonly time: number;
  readonly pressure: number;
  readonly flags: number;
}

/** Something that the acquisition noticed, put into the trace so that a replay sees it too. */
export interface Mark {
  /** s, on the trace's clock. */
  readonly time: number;
  readonly kind: MarkKind;
  /** What happened, for people. */
  readonly text?: string;
}

export type MarkKind =
  /** No data can come from here on (cable, port, silence, daemon stopped). */
  | 'signal-lost'
  | 'signal-back'
  /** The instrument restarted: readings before and after do not belong together. */
  | 'device-restart'
  /** The wall clock stepped or the host slept. */
  | 'clock-step'
  | 'lid-open'
  | 'lid-closed'
  | 'pump-on'
  | 'pump-off'
  | 'vent-open'
  | 'vent-closed'
  /** The contact can no longer be read. */
  | 'pump-unknown'
  | 'vent-unknown'
  /** Something keeps a run that is going on from being decided; the text says what. */
  | 'doubt';

/** The samples of a recording, column by column: equal lengths, any order of time as it was received. */
export interface Trace {
  /** s */ readonly time: Float64Array;
  /** bar */ readonly pressure: Float64Array;
  /** `Flag` bits; absent means all good. */
  readonly flags?: Uint8Array;
  /** Sorted by time. */
  readonly marks?: readonly Mark[];
}

/** What is known of the transducer and its input. */
export interface Instrument {
  /** Smallest step of the reading, bar; absent means it is taken from the readings themselves. */
  readonly resolution?: number;
  /** Lower and upper end of the calibrated span, bar. */
  readonly range?: { readonly lower: number; readonly upper: number };
  /** Accuracy class, % of span. */
  readonly accuracyClass?: number;
  /** Standard uncertainty of the calibration at the test pressure, bar. */
  readonly calibrationUncertainty?: number;
  /** ml that raise the whole bench and its assemblies by 1 bar near the test pressure, where it is known. */
  readonly compliance?: number;
  /** ml that one pump stroke brings, where it is known: the compliance then follows from the rise of the last strokes. */
  readonly strokeVolume?: number;
  /** True when the calibration's due date was past when the run was taken. */
  readonly calibrationOverdue?: boolean;
  /** Serial number and certificate, for the record. */
  readonly identity?: string;
  /** The calibration in force, field by field. */
  readonly calibration?: CalibrationInForce;
  /** How its readings became pressure, so that it can be repeated from the raw readings. */
  readonly conversion?: Conversion;
}

/** What the certificate of a transducer says. */
export interface CalibrationInForce {
  readonly certificate: string;
  readonly serial: string;
  /** Days such as `2027-03-01`; `due` is the last on which it holds. */
  readonly date: string;
  readonly due: string;
  readonly laboratory?: string;
  /** Expanded uncertainty (k = 2), bar. */
  readonly uncertainty?: number;
}

/** A trace from numbers in bar, all good. */
export function traceOf(time: ArrayLike<number>, pressure: ArrayLike<number>, flags?: ArrayLike<number>): Trace {
  const columns = { time: Float64Array.from(time), pressure: Float64Array.from(pressure) };
  return flags === undefined ? columns : { ...columns, flags: Uint8Array.from(flags) };
}
