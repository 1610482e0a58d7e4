import { Flag } from '../trace.js';
import { pressureUnitOf, toBar } from '../units.js';
import { cellKind, splitUnit } from './cell-kind.js';
import type { Chosen } from './columns.js';
import { GrowingTrace } from './growing-trace.js';
import type { Head } from './head.js';
import type { Delimiter, Skipped } from './import-options.js';
import { decimalsOf, parseNumber } from './number-format.js';
import { eachRow, isRemark, type Row } from './rows.js';
import type { Writing } from './survey.js';
import { TimeReader } from './time-reader.js';
import { refusal } from './unsettled.js';

/** Numbers that instruments send for 'over range' (SCPI 1999, 7.2.1.4: 9.9E37 is infinity, 9.91E37 not a number). */
const standIn = 9.9e37;

/** What the rows of a table came to. */
export interface ReadSamples {
  readonly samples: GrowingTrace;
  readonly time: TimeReader;
  /** Places of the samples before which the header is repeated. */
  readonly headers: readonly number[];
  /** How often it is. */
  readonly restarts: number;
  readonly skipped: readonly Skipped[];
  /** Most digits after the decimal sign in the pressure column. */
  readonly decimals: number;
}

/**
 * Reads every row below the header.
 * @throws InputError that names line, column and value of a field that should be a number and is not.
 */
export function readSamples(text: string, delimiter: Delimiter, head: Head, chosen: Chosen, writing: Writing, source: string): ReadSamples {
  const reading = new Reading(head, chosen, writing, source, /[\r\n]$/.test(text));
  eachRow(text, delimiter, (row) => {
    if (row.line >= head.firstLine) reading.row(row);
  });
  return reading.end();
}

class Reading implements ReadSamples {
  readonly samples = new GrowingTrace();
  readonly headers: number[] = [];
  readonly time: TimeReader;
  restarts = 0;
  decimals = 0;
  private readonly reasons = new Map<string, { count: number; line: number }>();
  private readonly width: number;
  private held: Row | undefined;
  private fewestDecimals = Infinity;

  constructor(
    private readonly head: Head,
    private readonly chosen: Chosen,
    private readonly writing: Writing,
    private readonly source: string,
    private readonly endsWithLineEnd: boolean,
  ) {
    this.time = new TimeReader(chosen.time, writing);
    this.width = chosen.columns.length;
  }

  get skipped(): Skipped[] {
    return [...this.reasons].map(([reason, { count, line }]) => ({ reason, count, line }));
  }

  /** One row is held back, since only the last may be cut short. */
  row(row: Row): void {
    if (this.held) this.take(this.held, false);
    this.held = row.fields.length > 0 ? row : undefined;
    if (row.fields.length === 0) this.skip('empty line', row.line);
  }

  end(): this {
    if (this.held) this.take(this.held, !this.endsWithLineEnd);
    const odd = this.skipped.filter(({ reason }) => reason.startsWith('time'));
    const count = odd.reduce((sum, { count }) => sum + count, 0);
    const [first] = odd;
    if (first && count > Math.max(3, 0.01 * this.samples.length)) {
      throw refusal(this.source, `line ${first.line}`, `${first.reason}, and so in ${count} rows; choose the time with --time-column or correct the file`);
    }
    return this;
  }

  private take(row: Row, mayBeCut: boolean): void {
    const { fields, line } = row;
    if (isRemark(fields)) return this.skip('remark', line);
    if (this.isHeader(fields)) return this.restart();
    if (sameFields(fields, this.head.unitRow)) return;
    const { pressure } = this.chosen;
    const time = this.time.read(fields);
    if (time === undefined || !Number.isFinite(time)) return this.noTime(row);
    const field = fields[pressure.index] ?? '';
    if (mayBeCut && this.isCut(fields, field)) return this.skip('last line is cut short', line);
    this.add(time, field, line);
  }

  private isHeader(fields: readonly string[]): boolean {
    return this.head.header.length > 0 && sameFields(fields, this.head.header);
  }

  private restart(): void {
    this.restarts++;
    if (this.headers.at(-1) !== this.samples.length) this.headers.push(this.samples.length);
  }

  /** Every row before the last had the same decimals and all columns; a last line without its end may lack some. */
  private isCut(fields: readonly string[], field: string): boolean {
    const full = this.head.rows.slice(0, -1).every((row) => row.fields.length >= this.width);
    const steady = this.samples.length > 1 && this.fewestDecimals === this.decimals && this.decimals > 0;
    const last = this.chosen.pressure.index === fields.length - 1;
    return (full && fields.length < this.width) || (steady && last && decimalsOf(field, this.writing.decimal) < this.decimals);
  }

  private noTime({ fields, line }: Row): void {
    const isValue = (field: string) => ['number', 'clock', 'date-time'].includes(cellKind(field));
    if (fields.length < this.width && !fields.some(isValue)) return this.skip('line of text', line);
    const { column } = this.chosen.time;
    const cell = fields[column.index] ?? '';
    const kind = cellKind(cell);
    if (kind === 'empty' || kind === 'nan') return this.skip('time is missing', line);
    if (this.chosen.time.kind !== 'elapsed' && kind === 'number') return this.skip(`time '${cell}' is not ${this.time.form} like the others`, line);
    throw refusal(this.source, `line ${line}`, `'${cell}' in column '${column.written}' is not ${this.time.form}${this.hint(cell)}`);
  }

  private add(time: number, field: string, line: number): void {
    const { pressure, unit } = this.chosen;
    let text = field;
    let value = parseNumber(text, this.writing.decimal);
    if (value === undefined) {
      const kind = cellKind(text);
      if (kind === 'empty' || kind === 'nan') return this.samples.add(time, NaN, Flag.unreadable);
      const parts = splitUnit(text);
      if (parts && pressureUnitOf(parts.unit) === unit) value = parseNumber((text = parts.number), this.writing.decimal);
    }
    if (value === undefined) {
      throw refusal(this.source, `line ${line}`, `'${field}' in column '${pressure.written}' is not a number${this.hint(field)}`);
    }
    if (Math.abs(value) >= standIn) return this.samples.add(time, NaN, value > 0 ? Flag.overRange : Flag.underRange);
    const decimals = decimalsOf(text, this.writing.decimal);
    if (decimals > this.decimals) this.decimals = decimals;
    if (decimals < this.fewestDecimals) this.fewestDecimals = decimals;
    this.samples.add(time, toBar(value, unit), Flag.good);
  }

  private hint(field: string): string {
    const parts = splitUnit(field);
    if (parts) return ` in ${this.chosen.unit}, the unit of the rest of the file`;
    const { decimal } = this.writing;
    const other = decimal === 'point' ? 'comma' : 'point';
    return parseNumber(field, other) === undefined ? '' : ` with a decimal ${decimal}, as the rest of the file; use one decimal sign throughout or say --decimal`;
  }

  private skip(reason: string, line: number): void {
    const known = this.reasons.get(reason);
    if (known) known.count++;
    else this.reasons.set(reason, { count: 1, line });
  }
}

const sameFields = (a: readonly string[], b: readonly string[]): boolean => a.length > 0 && a.length === b.length && a.every((field, i) => field === b[i]);
