import type { Trace } from '../trace.js';
import type { PressureUnit } from '../units.js';

export type Decimal = 'point' | 'comma';

/** What stands between day, month and year where a date can be read two ways. */
export const dateOrders = ['day-first', 'month-first'] as const;
export type DateOrder = (typeof dateOrders)[number];

/** Units of a time column; the last two say how a time of day with one colon is meant. */
export const timeUnits = ['s', 'ms', 'us', 'min', 'h', 'd', 'hh:mm', 'mm:ss'] as const;
export type TimeUnit = (typeof timeUnits)[number];

/** What a person may settle where the file does not say it. Everything else is found out or refused. */
export interface ImportOptions {
  /** Name of the pressure column, or its number from 1. */
  readonly column?: string | undefined;
  readonly unit?: PressureUnit | undefined;
  /** Name of the time column, or its number from 1. */
  readonly timeColumn?: string | undefined;
  readonly timeUnit?: TimeUnit | undefined;
  readonly dateOrder?: DateOrder | undefined;
  readonly decimal?: Decimal | undefined;
}

export type Delimiter = 'comma' | 'semicolon' | 'tab' | 'blanks';

/** Rows that were left out, told by reason. */
export interface Skipped {
  readonly reason: string;
  readonly count: number;
  /** Line of the first one, from 1. */
  readonly line: number;
}

/** How a file was read. Nothing here is a guess: what is not certain is refused. */
export interface ImportReport {
  readonly delimiter: Delimiter;
  readonly decimal: Decimal;
  /** Every column by name, or by `column 1` where the file names none. */
  readonly columns: readonly string[];
  readonly timeColumn: string;
  /** How the time is written: `s`, `ms`, ..., `time of day` or `date and time`. */
  readonly timeFormat: string;
  readonly pressureColumn: string;
  readonly unit: PressureUnit;
  readonly samples: number;
  /** Samples without a number to trust; they keep their place in time. */
  readonly missing: number;
  /** s, median step of the time column; `null` with fewer than two samples. */
  readonly interval: number | null;
  /** bar, one unit of the last decimal written; `null` where numbers are written out to more digits than any gauge has. */
  readonly resolution: number | null;
  /** Date and time of the first sample as the file gives it; `null` for elapsed times. */
  readonly start: string | null;
  /** How often the header was repeated: the logger started again. */
  readonly restarts: number;
  readonly skipped: readonly Skipped[];
  /** Other things a person should know, each a sentence. */
  readonly notes: readonly string[];
}

export interface Imported {
  readonly trace: Trace;
  readonly report: ImportReport;
}
