import { pressureUnitOf } from '../units.js';
import { columnName, timeUnitOf, type ColumnName } from './column-words.js';
import type { Delimiter } from './import-options.js';
import { eachRow, isRemark, isSampleLike, splitLine, type Row } from './rows.js';

/** What stands above the samples. */
export interface Head {
  /** Names of the columns; empty where the file names none. */
  readonly names: readonly ColumnName[];
  /** Fields of the header as they are, to know it again when it is repeated. */
  readonly header: readonly string[];
  /** The line of units below the header, where there is one. */
  readonly unitRow: readonly string[];
  /** Line of the first row that can be a sample. */
  readonly firstLine: number;
  /** The first rows that can be samples, at most 200. */
  readonly rows: readonly Row[];
  /** s, sampling interval that a `name=value` line above the table tells. */
  readonly interval: number | undefined;
}

/** Reads what stands above the table; `undefined` where no row can be a sample. */
export function readHead(text: string, delimiter: Delimiter): Head | undefined {
  const above: Row[] = [];
  const rows: Row[] = [];
  eachRow(text, delimiter, (row) => {
    if (isSampleLike(row.fields) && !isRemark(row.fields) && !isNameValue(row.fields)) rows.push(row);
    else if (rows.length === 0 && row.fields.length > 0) above.push(row);
    return rows.length < 200;
  });
  const first = rows[0];
  if (first === undefined) return undefined;
  const width = Math.max(...rows.map((row) => row.fields.length));
  const header = headerRow(above, width, delimiter, text);
  const { names, interval } = header === undefined ? namedByValues(above) : { names: header.names, interval: undefined };
  return { names, header: header?.fields ?? [], unitRow: header?.unitRow ?? [], firstLine: first.line, rows, interval };
}

const isNameValue = (fields: readonly string[]): boolean => /^[A-Za-z][\w .-]*=/.test(fields[0] ?? '');

interface Header {
  readonly fields: readonly string[];
  readonly unitRow: readonly string[];
  readonly names: readonly ColumnName[];
}

/** The last line above the samples that can name their columns; a line of units below it is taken with it. */
function headerRow(above: readonly Row[], width: number, delimiter: Delimiter, text: string): Header | undefined {
  const last = above.at(-1);
  const before = above.at(-2);
  if (last === undefined || isNameValue(last.fields)) return undefined;
  if (isUnitRow(last.fields) && before !== undefined && before.fields.length === last.fields.length && !isNameValue(before.fields)) {
    const names = before.fields.map((name, i) => ({ name, written: name, unit: withoutBrackets(last.fields[i] ?? '') || undefined }));
    return { fields: before.fields, unitRow: last.fields, names };
  }
  const fields = delimiter === 'blanks' ? spacedNames(lineOf(text, last.line), width) : last.fields;
  // A remark sign before the names is how some programs mark their header.
  const named = fields[0]?.startsWith('#') ? [fields[0].slice(1).trim(), ...fields.slice(1)].filter((field, i) => i > 0 || field !== '') : fields;
  if (named.length < 2 || (isRemark(last.fields) && named.length !== width)) return undefined;
  return { fields: last.fields, unitRow: [], names: named.map(columnName) };
}

const withoutBrackets = (field: string): string => field.replace(/^[[(]|[\])]$/g, '');

function isUnitRow(fields: readonly string[]): boolean {
  const told = fields.filter((field) => field !== '').map(withoutBrackets);
  const known = told.filter((unit) => pressureUnitOf(unit) ?? timeUnitOf(unit)).length;
  return told.length > 0 && told.every((unit) => unit.length <= 10) && known >= Math.min(2, told.length);
}

/** Names in a table parted by blanks may hold single blanks themselves (`time (s)   pressure (bar)`). */
function spacedNames(line: string, width: number): string[] {
  const bare = line.trim().replace(/^#\s*/, '');
  const ways = [bare.split(/\s{2,}|\t/), bare.split(/\s+/), bare.replaceAll(/\s+(?=[[(])/g, '').split(/\s+/)];
  return ways.find((names) => names.length === width) ?? splitLine(bare, 'blanks');
}

function lineOf(text: string, wanted: number): string {
  const lineEnd = /\r\n|\n|\r/g;
  let from = 0;
  for (let line = 1; line < wanted; line++) {
    lineEnd.exec(text);
    from = lineEnd.lastIndex;
  }
  return text.slice(from, lineEnd.exec(text)?.index ?? text.length);
}

/** `ChannelTitle=` and `UnitName=` lines: their first field stands over the time column. */
function namedByValues(above: readonly Row[]): { names: ColumnName[]; interval: number | undefined } {
  const find = (key: RegExp) => above.find(({ fields }) => isNameValue(fields) && key.test((fields[0] ?? '').replace(/=.*$/, '')))?.fields;
  const titles = find(/title|channel|column|names?$/i);
  const units = find(/unit/i);
  const interval = (find(/interval/i) ?? []).join(' ');
  const [, number, unit = ''] = /=\s*([\d.]+)\s*([a-zµ]+)/.exec(interval) ?? [];
  const factor = { s: 1, ms: 1e-3, us: 1e-6 }[timeUnitOf(unit) as 's' | 'ms' | 'us'] as number | undefined;
  const names = (titles ?? []).map((title, i) => {
    const given = units?.[i];
    return i === 0
      ? { name: 'time', written: 'time', unit: undefined }
      : { name: title, written: title, unit: given === '*' || given === '' ? undefined : given };
  });
  return { names: names.length > 1 ? names : [], interval: number === undefined || factor === undefined ? undefined : Number(number) * factor };
}
