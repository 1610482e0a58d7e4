import { splitUnit } from '../core/import/cell-kind.js';
import { decodeText } from '../core/import/decode-text.js';
import { readHead } from '../core/import/head.js';
import type { Decimal } from '../core/import/import-options.js';
import { decimalProvenBy, parseNumber } from '../core/import/number-format.js';
import { eachRow, findDelimiter, isRemark } from '../core/import/rows.js';
import { refusal } from '../core/import/unsettled.js';
import type { SignalUnit } from '../../drivers/signal-unit.js';
import { choosePointColumns, isPressure, type ColumnChoice, type PointColumn, type PointColumns } from './point-columns.js';
import { toPressure, type Scaling } from './reading-scale.js';
import type { Direction, Point } from './runs.js';

export interface PointOptions extends ColumnChoice {
  readonly scaling?: Scaling;
  readonly decimal?: Decimal;
}

/** The points of a file, and how it was read. */
export interface PointFile {
  readonly points: readonly Point[];
  readonly referenceUnit: SignalUnit;
  readonly readingUnit: SignalUnit;
  /** Sentences for people. */
  readonly notes: readonly string[];
}

/** More points are a recording, not a calibration. */
const mostPoints = 10_000;

/**
 * Reads reference and reading from a table: delimiter, decimal sign, columns and units are found in it as they are for a
 * trace, and refused with a question where something is left open.
 * @throws InputError that names file, line and value
 */
export function readPoints(bytes: Uint8Array, source: string, options: PointOptions): PointFile {
  const text = decodeText(bytes).replace(/^\ufeff/, '');
  if (text.replaceAll('\0', '').trim() === '') throw refusal(source, '', 'the file is empty; it should have a header such as reference_bar,reading_bar and a row for each point');
  const delimiter = findDelimiter(text);
  const head = delimiter && readHead(text, delimiter);
  if (!delimiter || !head) throw refusal(source, '', 'no row holds two numbers; it should have a header such as reference_bar,reading_bar and a row for each point');
  const columns = choosePointColumns(head, source, options);
  const { reference, reading } = columns;
  const referenceToBar = isPressure(reference.unit) ? toPressure(reference.unit, undefined) : null;
  if (referenceToBar === null) throw refusal(source, '', `the reference is in ${reference.unit}; it should be a pressure`);
  const readingToBar = toPressure(reading.unit, options.scaling);
  if (readingToBar === null) throw refusal(source, '', needsScaling(reading, options.scaling));
  const rows: { line: number; fields: readonly string[] }[] = [];
  let last = 0;
  eachRow(text, delimiter, ({ line, fields }) => {
    last = line;
    if (line >= head.firstLine && fields.length > 0 && !isRemark(fields)) rows.push({ line, fields });
    return rows.length <= mostPoints;
  });
  if (rows.length > mostPoints) throw refusal(source, `line ${last}`, `more than ${mostPoints} points; a calibration has one for each pressure that was set, not a recording`);
  const decimal = decimalOf(rows.flatMap(({ fields }) => [fields[reference.index] ?? '', fields[reading.index] ?? '']), delimiter === 'comma' && !text.includes('"'), source, options);
  const notes: string[] = [];
  const points = rows.flatMap(({ line, fields }): Point[] => {
    const written = [fields[reference.index] ?? '', fields[reading.index] ?? ''] as const;
    if (written.includes('')) {
      notes.push(`line ${line}: left out, as ${written[0] === '' ? 'the reference' : 'the reading'} is empty`);
      return [];
    }
    const value = (cell: string, column: PointColumn) => numberIn(cell, column, decimal, line, source);
    const direction = directionIn(columns, fields, line, source);
    const point = { reference: referenceToBar(value(written[0], reference)), reading: readingToBar(value(written[1], reading)), line };
    return [direction === undefined ? point : { ...point, direction }];
  });
  if (points.length === 0) throw refusal(source, '', 'no row has both a reference and a reading');
  return { points, referenceUnit: reference.unit, readingUnit: reading.unit, notes: [`reference from '${reference.written}' in ${reference.unit}, reading from '${reading.written}' in ${reading.unit}`, ...notes] };
}

const needsScaling = ({ unit }: PointColumn, scaling: Scaling | undefined): string =>
  scaling === undefined
    ? `the reading is in ${unit}, which is no pressure; say what it stands for as the channel does, for example --scaling '4..20 ${unit} = 0..600 bar'`
    : `the reading is in ${unit} and --scaling is for ${scaling.unit}; they should be the same`;

function decimalOf(cells: readonly string[], partedByCommas: boolean, source: string, { decimal }: PointOptions): Decimal {
  if (decimal !== undefined) return decimal;
  if (partedByCommas) return 'point';
  const numbers = cells.map((cell) => splitUnit(cell)?.number ?? cell);
  const proven = numbers.map(decimalProvenBy).find((sign) => sign !== undefined);
  if (proven !== undefined) return proven;
  const open = numbers.find((cell) => cell.includes(','));
  if (open !== undefined) throw refusal(source, '', `'${open}' may be a decimal comma or a grouped thousand; settle it with --decimal comma (or point)`);
  return 'point';
}

function numberIn(cell: string, column: PointColumn, decimal: Decimal, line: number, source: string): number {
  const parted = splitUnit(cell);
  if (parted !== undefined && parted.unit.toLowerCase() !== column.unit.toLowerCase()) {
    throw refusal(source, `line ${line}`, `'${cell}' in column '${column.written}' should be in ${column.unit}`);
  }
  const value = parseNumber(parted?.number ?? cell, decimal);
  if (value === undefined) throw refusal(source, `line ${line}`, `'${cell}' in column '${column.written}' is not a number`);
  return value;
}

function directionIn({ direction }: PointColumns, fields: readonly string[], line: number, source: string): Direction | undefined {
  if (direction === null) return undefined;
  const cell = (fields[direction] ?? '').trim();
  if (/^(up|u|rising|increasing|auf|aufwärts|montée|↑|\+)$/i.test(cell)) return 'up';
  if (/^(down|d|falling|decreasing|ab|abwärts|descente|↓|-)$/i.test(cell)) return 'down';
  throw refusal(source, `line ${line}`, `'${cell}' should be up or down`);
}
