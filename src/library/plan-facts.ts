import { parseQuantity } from '../core/quantity.js';
import { hoseSizes } from '../plans/hose-tables.js';

/** What a plan can be found by. */
export interface PlanFacts {
  /** Words of its name and its file's name, in small letters without accents. */
  readonly words: readonly string[];
  /** The same without anything but letters and digits. */
  readonly bare: string;
  /** Words of its remarks. */
  readonly remarks: readonly string[];
  /** Dash numbers of the hose sizes that it speaks of. */
  readonly sizes: readonly number[];
  /** bar; the test pressure first, then every pressure that it speaks of. */
  readonly pressures: readonly number[];
}

export const plain = (text: string): string => text.normalize('NFD').replaceAll(/\p{M}/gu, '').toLowerCase();
export const bareOf = (text: string): string => plain(text).replaceAll(/[^\p{L}\p{N}]/gu, '');
export const wordsOf = (text: string): string[] => plain(text).match(/[\p{L}\p{N}]+(?:[.,/][\p{L}\p{N}]+)*/gu) ?? [];

/** A pressure with its unit anywhere in a text. */
export const pressurePattern = /(\d+(?:[.,]\d+)?)\s*(bar|mpa|kpa|psi|ksi|kg\/cm2|kgf\/cm2)(?![a-z0-9/])/gi;
/** A size as people write it: `DN 12`, `1/2"`, `12.5 mm`, `-8` behind a blank or a letter. */
const sizePatterns: readonly [RegExp, (found: string) => number | undefined][] = [
  [/\bdn\s*(\d+(?:[.,]\d)?)/gi, (found) => sizeOfDn(Number(found.replace(',', '.')))],
  [/(?<![\d/.])((?:\d+[\s-])?\d+\/\d+)\s*(?:"|''|inch|in\b)?/gi, (found) => hoseSizes.find(({ inch }) => inch === found.replace(/[\s-]+/, ' '))?.dash],
  [/(?<![\d/])(\d)\s*(?:"|''|inch)/gi, (found) => hoseSizes.find(({ inch }) => inch === found)?.dash],
  [/(?<=[\s(a-z0-9])-(\d{1,2})(?![\d.,/a-z-])/gi, (found) => hoseSizes.find(({ dash }) => dash === Number(found))?.dash],
];

/** Dash number of a nominal size, DN; `undefined` where there is none. */
export const sizeOfDn = (value: number): number | undefined => hoseSizes.find(({ dn, alsoDn }) => dn === value || alsoDn.includes(value))?.dash;

/** Dash numbers of the sizes in a text. */
export const sizesIn = (text: string): number[] => [
  ...new Set(sizePatterns.flatMap(([pattern, read]) => [...text.matchAll(pattern)].flatMap((match) => read(match[1] ?? '') ?? []))),
];

/** Pressures in a text, bar. */
export const pressuresIn = (text: string): number[] =>
  [...text.matchAll(pressurePattern)].flatMap(([, number = '', unit = '']) => {
    const bar = parseQuantity(`${number.replace(',', '.')} ${unit}`, 'pressure', '');
    return typeof bar === 'number' ? [bar] : [];
  });

/** @param testPressure bar */
export function planFacts(key: string, name: string, text: string, testPressure: number): PlanFacts {
  const remarks = text.split('\n').flatMap((line) => /#(.*)$/.exec(line)?.[1] ?? []).join('\n');
  const names = `${name}\n${key}`;
  return {
    words: [...new Set(wordsOf(names))],
    bare: bareOf(names),
    remarks: [...new Set(wordsOf(remarks))],
    // A file's name writes with strokes what would be dash numbers.
    sizes: sizesIn(`${name}\n${remarks}`),
    pressures: [...new Set([testPressure, ...pressuresIn(`${name}\n${remarks}`)])],
  };
}
