import { inputError, nearest, type InputError } from '../core/problems.js';
import { hoseSizes, hoseTables, sizeName, type HoseSize, type HoseTable, type HoseType } from './hose-tables.js';
import { rated, type Rating } from './rating.js';

/** A hose as a standard knows it. */
export interface Hose {
  /** `ISO 1436 2SN`. */
  readonly name: string;
  readonly standard: string;
  readonly edition: string;
  readonly size: HoseSize;
  readonly working: Rating;
  readonly provenance: string;
}

interface Match {
  readonly table: HoseTable;
  readonly type: HoseType;
}

/**
 * The hose that a text such as `ISO 1436 2SN DN12`, `SAE 100R12-16` or `4SH 3/4"` names.
 * @throws InputError with the nearest names where there is no such hose, or where standards differ and none is named
 */
export function findHose(text: string): Hose {
  const { standard, rest } = takeStandard(text.toUpperCase().replaceAll(',', '.'));
  const { size, unknown, rest: typed } = takeSize(rest);
  const type = bare(typed);
  const tables = hoseTables.filter((table) => standard === undefined || table.standards.some(({ name }) => name === standard));
  if (/^(100)?R[12]AT$/.test(type)) {
    const number = type.includes('R1') ? '1' : '2';
    throw refuse(text, `100R${number}AT has been rated differently before and since 2006; write '100R${number}S' or '100R${number}AT before 2006', as the hose's own rating shows`);
  }
  const matches = tables.flatMap((table) => table.types.filter((known) => [known.name, ...known.also].some((name) => bare(name) === type)).map((known): Match => ({ table, type: known })));
  if (matches.length === 0) throw refuse(text, unknownType(type, tables, standard));
  if (size === undefined) {
    throw refuse(text, `${unknown === undefined ? 'no size was found in it' : `'${unknown}' is no size of it`}; write one of ${sizesOf(matches).map(sizeName).join(', ')}`);
  }
  const fitting = matches.flatMap(({ table, type: known }) => {
    const value = known.workingPressure[String(size.dash)] ?? known.workingPressure['all'];
    return value === undefined ? [] : [{ table, type: known, working: rated(value, table.unit) }];
  });
  const [first, ...others] = fitting;
  if (!first) throw refuse(text, `${matches[0]?.type.name ?? ''} has no ${sizeName(size)}; its sizes are ${sizesOf(matches).map(sizeName).join(', ')}`);
  if (others.some(({ working }) => working.bar !== first.working.bar)) {
    const told = fitting.map(({ table, type: known, working }) => `${working.text} as ${table.standards[0]?.name ?? ''} ${known.name}`);
    throw refuse(text, `standards rate it differently (${told.join(', ')}); name the one that is printed on the hose`);
  }
  const named = first.table.standards.find(({ name }) => name === standard) ?? first.table.standards[0];
  return {
    name: `${named?.name ?? ''} ${first.type.name}`,
    standard: named?.name ?? '',
    edition: named?.edition ?? '',
    size,
    working: first.working,
    provenance: first.table.provenance,
  };
}

const refuse = (text: string, what: string): InputError => inputError('--hose', '', `'${text}': ${what}`);
const bare = (text: string): string => text.toUpperCase().replaceAll(/[^A-Z0-9]/g, '');
const standardNames = hoseTables.flatMap(({ standards }) => standards.map(({ name }) => name));

/** Takes the name of a standard out of the text, with its year; `SAE` alone means the hose standard of SAE. */
function takeStandard(text: string): { standard: string | undefined; rest: string } {
  for (const name of standardNames) {
    const [body = '', number = ''] = name.split(' ');
    const pattern = new RegExp(`\\b(?:DIN\\s+|EN\\s+)*${body}\\s*${number}(?:\\s*[:-]\\s*(?:19|20)\\d\\d)?(?!\\d)`);
    if (pattern.test(text)) return { standard: name, rest: text.replace(pattern, ' ') };
  }
  const alone = /\bSAE\b/;
  return alone.test(text) ? { standard: 'SAE J517', rest: text.replace(alone, ' ') } : { standard: undefined, rest: text };
}

/** Takes the size out of the text: `DN 12`, `12.5 mm`, `1/2"`, `1 1/4 inch`, `-8`. */
function takeSize(text: string): { size: HoseSize | undefined; unknown?: string; rest: string } {
  const ways: readonly [RegExp, (found: string) => HoseSize | undefined][] = [
    [/\bDN\s*([\d.]+)/, byDn],
    [/\b([\d.]+)\s*MM\b/, byDn],
    [/((?:\d+[\s-]+)?\d+\/\d+)\s*(?:"|''|INCH(?:ES)?|IN\b)?/, byInch],
    [/(?<!\S)(\d+)\s*(?:"|''|INCH(?:ES)?\b|IN\b)/, byInch],
    [/-(\d{1,2})(?!\d)/, (found) => hoseSizes.find(({ dash }) => dash === Number(found))],
  ];
  for (const [pattern, read] of ways) {
    const match = pattern.exec(text);
    const size = match && read(match[1] ?? '');
    if (match && size) return { size, rest: text.replace(pattern, ' ') };
    if (match && /DN|MM|"|\//.test(match[0])) return { size: undefined, unknown: match[0].trim(), rest: text.replace(pattern, ' ') };
  }
  return { size: undefined, rest: text };
}

const byDn = (found: string): HoseSize | undefined => hoseSizes.find(({ dn, alsoDn }) => [dn, ...alsoDn].includes(Number(found)));
const byInch = (found: string): HoseSize | undefined => hoseSizes.find(({ inch }) => inch === found.trim().replace(/[\s-]+/, ' '));

const sizesOf = (matches: readonly Match[]): HoseSize[] =>
  hoseSizes.filter(({ dash }) => matches.some(({ type }) => type.workingPressure[String(dash)] !== undefined || type.workingPressure['all'] !== undefined));

function unknownType(type: string, tables: readonly HoseTable[], standard: string | undefined): string {
  const names = tables.flatMap((table) => table.types.map(({ name }) => name));
  const distinct = [...new Set(names)];
  const near = type === '' ? undefined : nearest(type, distinct.flatMap((name) => [name, bare(name)]));
  const shown = distinct.find((name) => name === near || bare(name) === near);
  return `${type === '' ? 'names no hose type' : `there is no type '${type}'`}${standard === undefined ? '' : ` in ${standard}`}${shown ? `; did you mean '${shown}'?` : `; known are ${distinct.join(', ')}`}`;
}
