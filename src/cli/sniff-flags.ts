import { InvalidArgumentError } from 'commander';
import type { RegisterRange } from '../sniff/registers.js';

/** Options of `sniff`, from what was typed to what is meant. */
const numbers = (text: string, least: number, most: number, example: string): number[] => {
  const all = text.split(',').flatMap((part) => {
    const match = /^\s*(\d{1,7})(?:-(\d{1,7}))?\s*$/.exec(part);
    const from = Number(match?.[1]);
    const to = Number(match?.[2] ?? match?.[1]);
    if (match === null || from < least || to > most || to < from) throw new InvalidArgumentError(`It should be numbers from ${least} to ${most}, for example ${example}.`);
    return Array.from({ length: to - from + 1 }, (_, i) => from + i);
  });
  return [...new Set(all)];
};

export const baudsFlag = (text: string): number[] => {
  if (text.includes('-')) throw new InvalidArgumentError('It should be bauds with commas between, for example 9600,19200.');
  return numbers(text, 50, 4_000_000, '9600,19200');
};

export const unitIdsFlag = (text: string): number[] => numbers(text, 0, 255, '1-10,247');

export const registersFlag = (text: string): RegisterRange[] =>
  text.split(',').map((part) => {
    const all = numbers(part, 0, 65_535, '0-99,1000-1050');
    return { from: all[0] ?? 0, to: all.at(-1) ?? 0 };
  });

export const secondsFlag = (least: number, most: number) => (text: string): number => {
  const match = /^\s*(\d+(?:\.\d+)?)\s*(ms|s|min)?\s*$/.exec(text);
  const value = Number(match?.[1]) * (match?.[2] === 'ms' ? 0.001 : match?.[2] === 'min' ? 60 : 1);
  if (match === null || !(value >= least && value <= most)) throw new InvalidArgumentError(`It should be a time from ${least} to ${most} s, for example '${Math.min(most, Math.max(least, 5))} s'.`);
  return value;
};

/** `\r`, `\n`, `\t` and `\x02` as people write them in a shell; one byte a character. */
export const askFlag = (text: string): string => {
  const names: Readonly<Record<string, string>> = { r: '\r', n: '\n', t: '\t', 0: '\0' };
  const meant = text.replaceAll(/\\(?:x([0-9a-fA-F]{2})|([rnt0\\]))/g, (_, hex: string | undefined, name: string | undefined) => (hex !== undefined ? String.fromCharCode(Number.parseInt(hex, 16)) : (names[name ?? ''] ?? '\\')));
  if (meant.length < 1 || meant.length > 256 || [...meant].some((c) => c > '\u00ff')) throw new InvalidArgumentError("It should be 1 to 256 characters of one byte each, for example '?P\\r'.");
  return meant;
};
