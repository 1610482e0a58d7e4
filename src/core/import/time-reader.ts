import { dayOfDate, secondsOfClock, splitDateTime } from './clock.js';
import type { Chosen } from './columns.js';
import { parseNumber } from './number-format.js';
import type { Writing } from './survey.js';

const secondsIn = { s: 1, min: 60, h: 3600, d: 86_400 } as const;
const perSecond = { ms: 1e3, us: 1e6 } as const;

/** Turns the time fields of one row after the other into seconds. Dates and times of day count from the first row. */
export class TimeReader {
  /** The first date and time as written; `null` for elapsed times. */
  start: string | null = null;
  /** How often a time of day went round its end (midnight, or the full hour of `mm:ss`). */
  wraps = 0;
  /** A time whose thousands are grouped by points, as an example; `null` where there is none. */
  groupedExample: string | null = null;
  private base: { readonly day: number; readonly seconds: number } | undefined;
  private lastSeconds: number | undefined;
  private lastDate = '';
  private lastDay: number | undefined;

  constructor(
    private readonly time: Chosen['time'],
    private readonly writing: Writing,
  ) {}

  /** What a good time looks like, for a message. */
  get form(): string {
    const names = { elapsed: 'a number', clock: 'a time of day', 'date-time': 'a date with a time', 'date-and-clock': 'a date and a time of day' };
    return names[this.time.kind];
  }

  /** s; `undefined` where the fields are no time of this column. */
  read(fields: readonly string[]): number | undefined {
    const cell = fields[this.time.column.index] ?? '';
    switch (this.time.kind) {
      case 'elapsed':
        return this.elapsed(cell, this.time.unit);
      case 'clock':
        return this.clock(cell);
      case 'date-time': {
        const both = splitDateTime(cell);
        return both && this.dated(both.date, both.clock, cell);
      }
      case 'date-and-clock': {
        const clock = fields[this.time.clock.index] ?? '';
        return this.dated(cell, clock, `${cell} ${clock}`);
      }
    }
  }

  private elapsed(cell: string, unit: keyof typeof secondsIn | keyof typeof perSecond): number | undefined {
    let text = cell;
    // 15.107.000 beside other numbers with a decimal point: the last point is the decimal one, the others group.
    if (this.writing.decimal === 'point' && /^\d{1,3}(?:\.\d{3}){2,}$/.test(cell)) {
      this.groupedExample ??= cell;
      text = cell.replace(/\.(?=.*\.)/g, '');
    }
    const value = parseNumber(text, this.writing.decimal);
    if (value === undefined) return undefined;
    return unit === 'ms' || unit === 'us' ? value / perSecond[unit] : value * secondsIn[unit];
  }

  private clock(cell: string): number | undefined {
    const seconds = secondsOfClock(cell, this.writing.shortClock);
    if (seconds === undefined) return undefined;
    const round = /^\d+:\d+(?:[.,]\d+)?$/.test(cell) && this.writing.shortClock === 'mm:ss' ? 3600 : 86_400;
    // Nearly a whole turn back is the end of the day or hour; a small step back is passed on as it is.
    if (this.lastSeconds !== undefined && this.lastSeconds - seconds > round * 0.9) this.wraps++;
    this.lastSeconds = seconds;
    return this.since(0, seconds + this.wraps * round, cell);
  }

  private dated(date: string, clock: string, written: string): number | undefined {
    if (date !== this.lastDate) [this.lastDate, this.lastDay] = [date, dayOfDate(date, this.writing.dateOrder)];
    const seconds = secondsOfClock(clock, this.writing.shortClock);
    return this.lastDay === undefined || seconds === undefined ? undefined : this.since(this.lastDay, seconds, written);
  }

  /** Counting from the first row keeps the numbers small and the rounding below a nanosecond. */
  private since(day: number, seconds: number, written: string): number {
    if (this.base === undefined) {
      this.base = { day, seconds };
      this.start = written;
    }
    return Math.round(((day - this.base.day) * 86_400 + (seconds - this.base.seconds)) * 1e7) / 1e7;
  }
}
