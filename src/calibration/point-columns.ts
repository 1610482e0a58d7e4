import { pressureUnitOf } from '../core/units.js';
import { signalUnitOf, type SignalUnit } from '../../drivers/signal-unit.js';
import { cellKind } from '../core/import/cell-kind.js';
import { columnName } from '../core/import/column-words.js';
import type { Head } from '../core/import/head.js';
import { listed, refusal } from '../core/import/unsettled.js';

/** What a person may settle where the file does not say it. */
export interface ColumnChoice {
  /** Name of a column, or its number from 1. */
  readonly referenceColumn?: string;
  readonly readingColumn?: string;
  /** Unit of a column whose header names none. */
  readonly referenceUnit?: SignalUnit;
  readonly readingUnit?: SignalUnit;
}

export interface PointColumn {
  /** From 0. */
  readonly index: number;
  readonly written: string;
  readonly unit: SignalUnit;
}

export interface PointColumns {
  readonly reference: PointColumn;
  readonly reading: PointColumn;
  /** The column that says up or down; `null` where there is none. */
  readonly direction: number | null;
}

type Named = { readonly index: number; readonly written: string; readonly unit: string | undefined; readonly numbers: boolean };

/** Words of several languages, looked for at the beginning of each word of a header. */
const referenceWords = /(^|[^a-z])(ref|standard|true|applied|normal|soll|référence|etalon|étalon|kalibrator|calibrator)/i;
const readingWords = /(^|[^a-z])(read|indicat|display|shown|output|dut|uut|signal|current|anzeige|mess|ist([^a-z]|$)|prüfling|lecture|affich|instrument|transducer)/i;
const directionWords = /(^|[^a-z])(direction|dir|sense|way|richtung|sens)([^a-z]|$)/i;

/** @throws InputError that says what is not certain and which option settles it */
export function choosePointColumns(head: Head, source: string, choice: ColumnChoice): PointColumns {
  const columns = columnsOf(head);
  const numbers = columns.filter((column) => column.numbers);
  const chosen = (wanted: string | undefined, option: string): Named | undefined => (wanted === undefined ? undefined : named(columns, wanted, option, source));
  const only = (words: RegExp): Named | undefined => {
    const found = numbers.filter(({ written }) => words.test(written));
    return found.length === 1 ? found[0] : undefined;
  };
  let reference = chosen(choice.referenceColumn, '--reference-column') ?? only(referenceWords);
  let reading = chosen(choice.readingColumn, '--reading-column') ?? only(readingWords);
  // Of two columns of numbers the one that is not the one is the other.
  const [first, second, third] = numbers;
  const other = (known: Named | undefined): Named | undefined => (known === undefined || third !== undefined ? undefined : known.index === first?.index ? second : first);
  reading ??= other(reference);
  reference ??= other(reading);
  if (reference === undefined || reading === undefined || reference.index === reading.index) {
    throw refusal(source, '', `which column is the reference and which the reading is not certain (columns: ${listed(columns.map((c) => c.written))}); settle it with --reference-column NAME and --reading-column NAME`);
  }
  const direction = columns.find(({ written, index }) => directionWords.test(written) && index !== reference.index && index !== reading.index);
  return {
    reference: withUnit(reference, choice.referenceUnit, '--reference-unit', source),
    reading: withUnit(reading, choice.readingUnit, '--reading-unit', source),
    direction: direction?.index ?? null,
  };
}

function columnsOf({ names, rows }: Head): Named[] {
  const width = Math.max(names.length, ...rows.map(({ fields }) => fields.length));
  return Array.from({ length: width }, (_, index) => {
    const name = names[index];
    const written = name?.written ?? `column ${index + 1}`;
    const filled = rows.map(({ fields }) => fields[index] ?? '').filter((field) => field !== '');
    return { index, written, unit: name?.unit ?? trailingUnit(written), numbers: filled.length > 0 && filled.filter((field) => cellKind(field) === 'number').length * 2 > filled.length };
  });
}

/** `reading_mA`, `output / V`: signals, which a trace has no column of. */
function trailingUnit(written: string): string | undefined {
  const unit = columnName(written).unit ?? /[\s_/]([A-Za-z%]+)$/.exec(written)?.[1];
  return unit !== undefined && signalUnitOf(unit) !== undefined ? unit : undefined;
}

function named(columns: readonly Named[], wanted: string, option: string, source: string): Named {
  const found = columns.filter(({ written }) => written.toLowerCase() === wanted.trim().toLowerCase());
  const column = found[0] ?? (/^\d+$/.test(wanted) ? columns[Number(wanted) - 1] : undefined);
  if (column === undefined) throw refusal(source, '', `there is no column '${wanted}' for ${option}; the columns are ${listed(columns.map((c) => c.written))}`);
  return column;
}

function withUnit({ index, written, unit }: Named, given: SignalUnit | undefined, option: string, source: string): PointColumn {
  const said = unit === undefined ? undefined : signalUnitOf(unit);
  const known = given ?? said;
  if (known !== undefined) return { index, written, unit: known };
  throw refusal(source, '', `column '${written}' has no unit${unit === undefined ? '' : ` that is known ('${unit}')`}; write it into the header, such as '${written}_bar', or settle it with ${option} bar`);
}

/** Whether a unit is one of pressure. */
export const isPressure = (unit: SignalUnit): boolean => pressureUnitOf(unit) !== undefined;
