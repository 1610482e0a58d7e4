import type { Chosen } from './columns.js';
import { dateOrderOf, isDate, shortClockOf, splitDateTime, type ShortClock } from './clock.js';
import { splitUnit } from './cell-kind.js';
import type { DateOrder, Decimal, Delimiter, ImportOptions } from './import-options.js';
import { decimalProvenBy } from './number-format.js';
import { eachRow } from './rows.js';
import { Unsettled } from './unsettled.js';

/** How numbers and times are written, as the whole file proves it. */
export interface Writing {
  readonly decimal: Decimal;
  readonly dateOrder: DateOrder;
  readonly shortClock: ShortClock;
}

/**
 * Looks through the rows until everything is proven, to the end if need be.
 * @throws InputError where something can be read two ways and no option settles it.
 */
export function survey(text: string, delimiter: Delimiter, firstLine: number, chosen: Chosen, source: string, options: ImportOptions): Writing {
  const { time, pressure } = chosen;
  const look = new Look(options);
  // Where commas part the fields, none can be left inside a number.
  if (delimiter === 'comma' && !text.includes('"')) look.decimal ??= 'point';
  eachRow(text, delimiter, ({ line, fields }) => {
    if (line < firstLine) return true;
    look.number(fields[pressure.index] ?? '');
    const cell = fields[time.column.index] ?? '';
    // Points that group the thousands of a time say nothing of the decimal sign.
    if (time.kind === 'elapsed' && !/\..*\./.test(cell)) look.number(cell);
    if (time.kind === 'clock') look.clock(cell);
    if (time.kind === 'date-time') look.dateTime(cell);
    if (time.kind === 'date-and-clock') {
      look.date(cell);
      look.clock(fields[time.clock.index] ?? '');
    }
    if (look.decimal === undefined) fields.forEach((field) => look.elsewhere(field));
    return !look.done(time.kind);
  });
  const open = new Unsettled();
  if (look.decimal === undefined && look.commaExample !== undefined && look.elsewhereDecimal === undefined) {
    open.add(`'${look.commaExample}' may be a decimal comma or a grouped thousand`, '--decimal comma (or point)');
  }
  if (look.dateOrder === undefined && look.dateExample !== undefined) {
    open.add(`the date '${look.dateExample}' may have the day or the month first`, '--date-order day-first (or month-first)');
  }
  if (look.shortClock === undefined && look.clockExample !== undefined) {
    open.add(`the time '${look.clockExample}' may be hours and minutes or minutes and seconds`, '--time-unit hh:mm (or mm:ss)');
  }
  open.settle(source);
  return { decimal: look.decimal ?? look.elsewhereDecimal ?? 'point', dateOrder: look.dateOrder ?? 'day-first', shortClock: look.shortClock ?? 'hh:mm' };
}

/** What has been seen so far. An example is kept only while it can be read two ways. */
class Look {
  decimal: Decimal | undefined;
  /** What columns that are not read prove; it decides only where the others prove nothing. */
  elsewhereDecimal: Decimal | undefined;
  dateOrder: DateOrder | undefined;
  shortClock: ShortClock | undefined;
  commaExample: string | undefined;
  dateExample: string | undefined;
  clockExample: string | undefined;
  private lastDate = '';
  private clocksAreFull = false;

  constructor(options: ImportOptions) {
    this.decimal = options.decimal;
    this.dateOrder = options.dateOrder;
    if (options.timeUnit === 'hh:mm' || options.timeUnit === 'mm:ss') this.shortClock = options.timeUnit;
  }

  number(field: string): void {
    if (this.decimal !== undefined || field === '') return;
    const digits = /^[\d.,+-]/.test(field) ? (splitUnit(field)?.number ?? field) : '';
    this.decimal = decimalProvenBy(digits);
    if (this.decimal === undefined && digits.includes(',')) this.commaExample ??= digits;
  }

  elsewhere(field: string): void {
    if (this.decimal !== undefined || this.elsewhereDecimal !== undefined || !/^[+-]?\d*[.,]\d+$/.test(field)) return;
    this.elsewhereDecimal = decimalProvenBy(field);
  }

  clock(field: string): void {
    if (this.shortClock !== undefined || this.clocksAreFull) return;
    const found = shortClockOf(field);
    if (found === null) this.clocksAreFull = field.includes(':');
    else if (found !== undefined) this.shortClock = found;
    else if (field.includes(':')) this.clockExample ??= field;
  }

  date(field: string): void {
    if (this.dateOrder !== undefined || field === this.lastDate) return;
    this.lastDate = field;
    // Year first or a month by name: there is nothing to tell apart in the whole column.
    const found = isDate(field) && /^\d{4}|[A-Za-z]/.test(field) ? 'day-first' : dateOrderOf(field);
    if (found === undefined) this.dateExample ??= field;
    else if (found !== null) this.dateOrder = found;
  }

  dateTime(field: string): void {
    const both = splitDateTime(field);
    if (!both) return;
    this.date(both.date);
    this.clock(both.clock);
  }

  done(time: Chosen['time']['kind']): boolean {
    const datesDone = time === 'elapsed' || time === 'clock' || this.dateOrder !== undefined;
    return this.decimal !== undefined && datesDone && (time === 'elapsed' || this.clocksAreFull || this.shortClock !== undefined);
  }
}
