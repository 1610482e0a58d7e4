import Papa from 'papaparse';
import { cellKind } from './cell-kind.js';
import type { Delimiter } from './import-options.js';

/** One row of a table: its line from 1 and its fields without blanks around them or empty ones at the end. */
export interface Row {
  readonly line: number;
  readonly fields: readonly string[];
}

const signs: Readonly<Record<Exclude<Delimiter, 'blanks'>, string>> = { comma: ',', semicolon: ';', tab: '\t' };
/** In order of trust: a tab or semicolon in every row is there on purpose, a comma may be a decimal sign, a blank anything. */
const candidates: readonly Delimiter[] = ['tab', 'semicolon', 'comma', 'blanks'];

/** Splits one line that holds no quotes. */
export function splitLine(line: string, delimiter: Delimiter): string[] {
  if (delimiter === 'blanks') return line.trim() === '' ? [] : line.trim().split(/\s+/);
  return tidy(line.split(signs[delimiter]));
}

function tidy(fields: string[]): string[] {
  const trimmed = fields.map((field) => field.trim());
  while (trimmed.length > 0 && trimmed[trimmed.length - 1] === '') trimmed.pop();
  return trimmed;
}

/** Line ends CRLF, LF or CR alone. */
const lineEnd = /\r\n|\n|\r/g;

/** Calls `visit` for each row in turn until it returns false. Only one row is held at a time. */
export function eachRow(text: string, delimiter: Delimiter, visit: (row: Row) => boolean | void): void {
  if (text.includes('"') && delimiter !== 'blanks') return eachQuotedRow(text, delimiter, visit);
  let line = 0;
  let from = 0;
  lineEnd.lastIndex = 0;
  while (from < text.length) {
    const end = lineEnd.exec(text);
    const until = end?.index ?? text.length;
    line++;
    if (visit({ line, fields: splitLine(text.slice(from, until), delimiter) }) === false) return;
    if (!end) return;
    from = lineEnd.lastIndex;
  }
}

function eachQuotedRow(text: string, delimiter: Exclude<Delimiter, 'blanks'>, visit: (row: Row) => boolean | void): void {
  let line = 0;
  Papa.parse<string[]>(text, {
    delimiter: signs[delimiter],
    step: ({ data }, parser) => {
      line++;
      const row = { line, fields: tidy(data) };
      line += data.reduce((more, field) => more + field.split('\n').length - 1, 0);
      if (visit(row) === false) parser.abort();
    },
  });
}

/** A row that can be a sample: at least two fields that are values, and more of them than of words. */
export function isSampleLike(fields: readonly string[]): boolean {
  const kinds = fields.map(cellKind);
  const words = kinds.filter((kind) => kind === 'text').length;
  const values = kinds.filter((kind) => kind !== 'text' && kind !== 'empty').length;
  return values >= 2 && values > words;
}

export const isRemark = (fields: readonly string[]): boolean => fields[0]?.startsWith('#') === true;

/** The delimiter under which most of the first lines are rows of values; `undefined` where none makes a table. */
export function findDelimiter(text: string): Delimiter | undefined {
  const told = /^sep=([;,\t])/.exec(text)?.[1];
  if (told !== undefined) return told === ';' ? 'semicolon' : told === ',' ? 'comma' : 'tab';
  let best: Delimiter | undefined;
  let most = 0;
  for (const delimiter of candidates) {
    const score = tableScore(text, delimiter);
    if (score > most) [best, most] = [delimiter, score];
  }
  return best;
}

/** Rows of values count 1, rows with some words in them a half: a wrong delimiter leaves words. */
function tableScore(text: string, delimiter: Delimiter): number {
  let score = 0;
  let seen = 0;
  eachRow(text, delimiter, ({ fields }) => {
    if (fields.length === 0 || isRemark(fields)) return true;
    if (isSampleLike(fields)) score += fields.some((field) => cellKind(field) === 'text') ? 0.5 : 1;
    return ++seen < 300;
  });
  return score;
}
