import { inputError, type InputError } from '../problems.js';

/** Things that a file leaves open, gathered so that one sentence names them all and the options that settle them. */
export class Unsettled {
  private readonly found: string[] = [];
  private readonly options: string[] = [];

  add(found: string, option: string): void {
    this.found.push(found);
    this.options.push(option);
  }

  /** @throws InputError where anything was left open. */
  settle(source: string): void {
    if (this.found.length > 0) throw refusal(source, '', `${this.found.join('; ')}; settle it with ${this.options.join(' and ')}`);
  }
}

/** The error of an import: what was found, and what would be right. */
export const refusal = (source: string, place: string, text: string): InputError => inputError(source, place, text);

/** A list for a sentence: `'a', 'b' and 'c'`. */
export function listed(names: readonly string[], last = 'and'): string {
  const quoted = names.map((name) => `'${name}'`);
  return quoted.length < 2 ? quoted.join('') : `${quoted.slice(0, -1).join(', ')} ${last} ${quoted.at(-1) ?? ''}`;
}
