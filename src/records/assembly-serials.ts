import { inputError } from '../core/problems.js';
import { unprintable } from './text-line.js';

/** Assemblies that one run may name. */
export const mostAssemblies = 200;
/** Characters of one serial number. */
export const longestSerial = 60;

const example = "write for example 'A17-001..006' or 'A17-001, A17-004'";

/**
 * Serial numbers out of a text such as `A17-001..006, B2`: parts between commas, semicolons or line ends; two full stops
 * (or an ellipsis) count the last number in it upward and keep its leading zeros.
 * @param place the field that the text was written in, for error sentences
 * @throws InputError that names the part, and what would be right
 */
export function parseSerials(text: string, source = 'job', place = 'assemblies'): string[] {
  const refuse = (what: string): never => {
    throw inputError(source, place, what);
  };
  const parts = text.split(/[,;\r\n\t]+/).map((part) => part.trim()).filter((part) => part !== '');
  const serials: string[] = [];
  for (const part of parts) {
    const shown = `'${part.slice(0, 80)}'`;
    if (unprintable.test(part)) refuse(`${shown} contains signs that cannot be printed; type it again`);
    const ends = part.split(/\s*(?:\.\.+|…)\s*/);
    if (ends.length > 2) refuse(`${shown} has more than one range; ${example}`);
    const [first = '', last] = ends;
    serials.push(...(last === undefined ? [first] : range(first, last, shown, refuse)));
    if (serials.length > mostAssemblies) refuse(`${shown} makes more than ${mostAssemblies} assemblies; one run should name ${mostAssemblies} or fewer`);
  }
  checkSerials(serials, source, place);
  return serials;
}

/** @throws InputError for a serial number that is too long, or named twice */
export function checkSerials(serials: readonly string[], source = 'job', place = 'assemblies'): void {
  const seen = new Set<string>();
  for (const serial of serials) {
    if (serial.length > longestSerial) throw inputError(source, place, `'${serial.slice(0, 80)}' has ${serial.length} characters; a serial number should have ${longestSerial} or fewer`);
    const same = serial.toLowerCase();
    if (seen.has(same)) throw inputError(source, place, `'${serial}' is named twice; each assembly should be named once`);
    seen.add(same);
  }
}

const counted = /^(.*?)(\d+)(\D*)$/s;

function range(first: string, last: string, shown: string, refuse: (what: string) => never): string[] {
  const begin = counted.exec(first) ?? refuse(`${shown} has no number to count from; ${example}`);
  const [, head = '', from = '', tail = ''] = begin;
  // `A17-001..006` and `A17-001..A17-006` mean the same.
  const end = last.startsWith(head) && head !== '' ? last.slice(head.length) : last;
  const digits = tail !== '' && end.endsWith(tail) ? end.slice(0, -tail.length) : end;
  if (!/^\d+$/.test(digits)) refuse(`${shown} should end with a number, or with the same letters as it begins with; ${example}`);
  if (from.length > 15 || digits.length > 15) refuse(`${shown} counts with more than 15 digits; ${example}`);
  const [low, high] = [Number(from), Number(digits)];
  if (high < low) refuse(`${shown} runs backward; the second number should be the larger one`);
  if (high - low >= mostAssemblies) refuse(`${shown} makes ${high - low + 1} assemblies; one run should name ${mostAssemblies} or fewer`);
  return Array.from({ length: high - low + 1 }, (_, i) => `${head}${String(low + i).padStart(from.length, '0')}${tail}`);
}
