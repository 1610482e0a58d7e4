import { appendFileSync, statSync } from 'node:fs';
import type { Refused } from './deliver.js';

/** bytes that the file may have; beyond that, refused points are only counted. */
const largest = 10 * 2 ** 20;

/** Points that the database will never take, one JSON object a line, beside the store. The store still has what they were made of. */
export class RefusedLines {
  constructor(
    readonly path: string,
    private readonly now: () => number = Date.now,
  ) {}

  /** @returns whether all are in the file; never throws */
  keep(refused: readonly Refused[]): boolean {
    try {
      const size = statSync(this.path, { throwIfNoEntry: false })?.size ?? 0;
      const at = new Date(this.now()).toISOString();
      const text = refused.map(({ line, why }) => `${JSON.stringify({ at, why, line })}\n`).join('');
      if (size + text.length > largest) return false;
      appendFileSync(this.path, text);
      return true;
    } catch {
      return false; // a full disk: they are counted, and made from the store again whenever they are wanted
    }
  }
}
