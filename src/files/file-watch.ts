import { statSync } from 'node:fs';
import { InputError } from '../core/problems.js';

/** What the watch tells. */
export interface FileNews<T> {
  /** Files that are right and have been at rest. */
  changed(content: T): void;
  /** What is wrong with a changed file; `null` when it is right again. What was before it stays in force meanwhile. */
  problem(text: string | null): void;
}

/** A file as it was last seen; two of the same in a row mean that nobody is writing it just now. */
const look = (path: string): string => {
  const found = statSync(path, { throwIfNoEntry: false });
  return found === undefined ? 'missing' : `${found.mtimeMs} ${found.size} ${found.ino} ${found.mode}`;
};

/**
 * Sees when files change. `poll` is to be called about once a second; a change counts once two looks in a row found the
 * same, so that a half-written file is never taken for a whole one.
 */
export class FileWatch<T> {
  private seen: readonly string[];
  private applied: readonly string[];

  /** @param read reads the files. @throws InputError where they are wrong */
  constructor(
    private readonly paths: readonly string[],
    private readonly read: () => T,
    private readonly news: FileNews<T>,
  ) {
    this.seen = this.applied = paths.map(look);
  }

  poll(): void {
    const now = this.paths.map(look);
    const atRest = now.every((state, i) => state === this.seen[i]);
    this.seen = now;
    if (!atRest || now.every((state, i) => state === this.applied[i])) return;
    this.applied = now;
    let content: T;
    try {
      content = this.read();
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      this.news.problem(`the changed file is not used, the one before it stays in force: ${error.message.split('\n').join('; ')}`);
      return;
    }
    this.news.problem(null);
    this.news.changed(content);
  }
}
