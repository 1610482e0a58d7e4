import { nearest } from '../problems.js';
import { pressureUnitOf, pressureUnits, type PressureUnit } from '../units.js';
import { cellKind, splitUnit, type CellKind } from './cell-kind.js';
import { isNotTheReading, isPressureWord, isTimeWord, timeUnitOf, type ColumnName } from './column-words.js';
import type { Head } from './head.js';
import type { ImportOptions, TimeUnit } from './import-options.js';
import { listed, refusal, Unsettled } from './unsettled.js';

/** One column of the table. */
export interface Column extends ColumnName {
  /** From 0. */
  readonly index: number;
  /** What most of its first fields look like. */
  readonly kind: CellKind;
}

/** How the time is put together: numbers with a unit, times of day, dates with times, or a column of each. */
export type TimeSource =
  | { readonly kind: 'elapsed'; readonly column: Column; readonly unit: Exclude<TimeUnit, 'hh:mm' | 'mm:ss'> }
  | { readonly kind: 'clock'; readonly column: Column }
  | { readonly kind: 'date-time'; readonly column: Column }
  | { readonly kind: 'date-and-clock'; readonly column: Column; readonly clock: Column };

/** Which columns are read, and as what. */
export interface Chosen {
  readonly columns: readonly Column[];
  readonly time: TimeSource;
  readonly pressure: Column;
  readonly unit: PressureUnit;
}

/** @throws InputError that says what is not certain and which option settles it. */
export function chooseColumns(head: Head, source: string, options: ImportOptions): Chosen {
  const columns = columnsOf(head, source);
  const open = new Unsettled();
  const timeColumn = findTime(columns, head, options, source, open);
  const others = columns.filter((column) => column !== timeColumn);
  const time = timeColumn && timeSource(timeColumn, others, head, options, source, open);
  const used = time?.kind === 'date-and-clock' ? others.filter((column) => column !== time.clock) : others;
  const pressure = findPressure(used, head.names.length > 0, options, source, open);
  const unit = pressureUnit(pressure, used, head, options, source, open);
  open.settle(source);
  if (!time || !pressure || !unit) throw refusal(source, '', 'time, pressure and unit could not be found');
  return { columns, time, pressure, unit };
}

function columnsOf(head: Head, source: string): Column[] {
  const width = Math.max(...head.rows.map(({ fields }) => fields.length));
  if (head.names.length > 0 && head.names.length < width) {
    throw refusal(
      source,
      `line ${head.firstLine}`,
      `the header names ${head.names.length} columns (${listed(head.names.map((n) => n.written))}) but the rows have ${width} fields; a decimal comma in a file parted by commas cannot be told apart, use ';' or a decimal point`,
    );
  }
  return Array.from({ length: Math.max(width, head.names.length) }, (_, index): Column => {
    const named = head.names[index] ?? { name: `column ${index + 1}`, written: `column ${index + 1}`, unit: undefined };
    return { ...named, index, kind: usualKind(head, index) };
  });
}

function usualKind(head: Head, index: number): CellKind {
  const counts = new Map<CellKind, number>();
  for (const { fields } of head.rows) {
    const kind = cellKind(fields[index] ?? '');
    if (kind !== 'empty') counts.set(kind, (counts.get(kind) ?? 0) + 1);
  }
  return [...counts].sort((a, b) => b[1] - a[1])[0]?.[0] ?? 'empty';
}

/** The column that an option names, by its name or its number from 1. */
function named(columns: readonly Column[], wanted: string, option: string, source: string): Column {
  const same = (text: string) => text.trim().toLowerCase() === wanted.trim().toLowerCase();
  const found = columns.filter((column) => same(column.written) || same(column.name));
  if (found.length > 1) throw refusal(source, '', `there are ${found.length} columns called '${wanted}'; give ${option} a number (${found.map((c) => c.index + 1).join(' or ')})`);
  const byNumber = /^\d+$/.test(wanted) ? columns.find(({ index }) => index === Number(wanted) - 1) : undefined;
  const column = found[0] ?? byNumber;
  if (column) return column;
  const names = columns.map((c) => c.written);
  const near = nearest(wanted, names);
  throw refusal(source, '', `there is no column '${wanted}' for ${option}${near ? `; did you mean '${near}'?` : `; the columns are ${listed(names)}`}`);
}

const isWritten = (column: Column): boolean => column.kind === 'clock' || column.kind === 'date' || column.kind === 'date-time';

function findTime(columns: readonly Column[], head: Head, options: ImportOptions, source: string, open: Unsettled): Column | undefined {
  if (options.timeColumn !== undefined) return named(columns, options.timeColumn, '--time-column', source);
  const candidates = [
    columns.filter(isWritten),
    columns.filter((column) => column.kind === 'number' && isTimeWord(column.written)),
    head.names.length === 0 ? columns.slice(0, 1).filter((column) => isRising(head, column.index)) : [],
  ].find((some) => some.length > 0);
  const [first, second] = candidates ?? [];
  if (first && (candidates?.length === 1 || (candidates?.length === 2 && second && isDateWithClock(first, second)))) {
    return first.kind === 'clock' && second?.kind === 'date' ? second : first;
  }
  const names = listed((candidates ?? columns).map((column) => column.written), candidates ? 'and' : 'or');
  open.add(candidates ? `the columns ${names} are all times` : `none of the columns (${names}) is surely the time`, '--time-column NAME');
  return undefined;
}

const isDateWithClock = (a: Column, b: Column): boolean => (a.kind === 'date' && b.kind === 'clock') || (a.kind === 'clock' && b.kind === 'date');

/** Whether a column without a name grows from row to row, as only a time does. */
function isRising(head: Head, index: number): boolean {
  const values = head.rows.map(({ fields }) => Number((fields[index] ?? '').replace(',', '.').replace(/\.(?=.*\.)/g, '')));
  return values.every((value, i) => Number.isFinite(value) && (i === 0 || value > (values[i - 1] ?? Infinity)));
}

function timeSource(column: Column, others: readonly Column[], head: Head, options: ImportOptions, source: string, open: Unsettled): TimeSource | undefined {
  switch (column.kind) {
    case 'clock':
      return { kind: 'clock', column };
    case 'date-time':
      return { kind: 'date-time', column };
    case 'date': {
      const clock = others.find((other) => other.kind === 'clock');
      if (clock) return { kind: 'date-and-clock', column, clock };
      throw refusal(source, '', `column '${column.written}' holds dates without a time of day; choose another with --time-column`);
    }
    case 'number':
    case 'nan':
    case 'empty':
    case 'text':
      break;
  }
  if (column.kind !== 'number') throw refusal(source, '', `column '${column.written}' holds no times; choose another with --time-column`);
  const told = column.unit === undefined ? undefined : timeUnitOf(column.unit);
  const unit = options.timeUnit ?? told ?? (stepIs(head, column.index) ? 's' : undefined);
  if (told !== undefined && options.timeUnit !== undefined && options.timeUnit !== told) {
    throw refusal(source, '', `column '${column.written}' says ${told} but --time-unit says ${options.timeUnit}; leave the option out or correct the file`);
  }
  if (unit === 'hh:mm' || unit === 'mm:ss') throw refusal(source, '', `--time-unit ${unit} is for times of day, but column '${column.written}' holds numbers; use s, ms, us, min, h or d`);
  if (unit !== undefined) return { kind: 'elapsed', column, unit };
  const examples = head.rows.slice(0, 2).map(({ fields }) => fields[column.index] ?? '');
  open.add(`the time in '${column.written}' (${examples.join(', ')}, ...) has no unit`, '--time-unit s (or ms, us, min, h, d)');
  return undefined;
}

/** The preamble told the sampling interval in s and the time column steps by just that. */
function stepIs(head: Head, index: number): boolean {
  const [a, b] = head.rows.map(({ fields }) => Number(fields[index]));
  return head.interval !== undefined && a !== undefined && b !== undefined && Math.abs(b - a - head.interval) < 1e-9;
}

function findPressure(columns: readonly Column[], hasNames: boolean, options: ImportOptions, source: string, open: Unsettled): Column | undefined {
  if (options.column !== undefined) return named(columns, options.column, '--column', source);
  const numbers = columns.filter((column) => column.kind === 'number' || column.kind === 'nan');
  const spokenFor = numbers.filter((column) => pressureUnitOf(column.unit ?? '') !== undefined || isPressureWord(column.name));
  const readings = spokenFor.filter((column) => !isNotTheReading(column.name));
  const withUnit = readings.filter((column) => pressureUnitOf(column.unit ?? '') !== undefined);
  const only = [withUnit, readings, spokenFor, hasNames ? [] : numbers].find((some) => some.length > 0) ?? [];
  if (only.length === 1) return only[0];
  const names = listed((only.length > 0 ? only : columns).map((column) => column.written), only.length > 0 ? 'and' : 'or');
  open.add(
    only.length > 0 ? (hasNames ? `the columns ${names} may each be the pressure` : `there is no header, and ${names} are all numbers`) : `none of the columns (${names}) says that it is a pressure`,
    `--column ${hasNames ? 'NAME' : 'NUMBER'}`,
  );
  return undefined;
}

function pressureUnit(pressure: Column | undefined, used: readonly Column[], head: Head, options: ImportOptions, source: string, open: Unsettled): PressureUnit | undefined {
  const written = pressure?.unit ?? splitUnit(head.rows[0]?.fields[pressure?.index ?? -1] ?? '')?.unit;
  const told = written === undefined ? undefined : pressureUnitOf(written);
  if (pressure && written !== undefined && told === undefined && (isPressureWord(pressure.name) || options.unit === undefined)) {
    const absolute = /^(bara|bar\(?a(bs)?\)?|psia|psi\(a\)|kpaa|mbara)$/i.test(written.replaceAll(/\s/g, ''));
    throw refusal(
      source,
      '',
      `column '${pressure.written}' has the unit '${written}'${absolute ? ', which is absolute pressure; convert it to gauge pressure first' : `, which is not a pressure unit known here (${pressureUnits.join(', ')})`}`,
    );
  }
  if (pressure && told !== undefined && options.unit !== undefined && told !== options.unit) {
    throw refusal(source, '', `column '${pressure.written}' says ${told} but --unit says ${options.unit}; leave the option out or correct the file`);
  }
  const unit = options.unit ?? told;
  // Where it is only open which column is meant, and each has a unit, the unit is not what is missing.
  const tellsLater = !pressure && used.some((column) => pressureUnitOf(column.unit ?? '') !== undefined);
  if (unit === undefined && !tellsLater) open.add(pressure ? `the pressure in '${pressure.written}' has no unit` : 'no column gives a pressure unit', '--unit bar (or MPa, psi, kPa, mbar, ...)');
  return unit;
}
