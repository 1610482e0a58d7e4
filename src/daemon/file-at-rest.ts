import { statSync } from 'node:fs';

/** A file as it was last seen; two of the same in a row mean that nobody is writing it just now. */
const look = (path: string): string => {
  const found = statSync(path, { throwIfNoEntry: false });
  return found === undefined ? 'missing' : `${found.mtimeMs} ${found.size} ${found.ino}`;
};

/** Tells once when a file has changed and has been at rest for two looks, so that a half-written one is never taken for a whole. */
export class FileAtRest {
  private seen: string;
  private applied: string;

  constructor(private readonly path: string) {
    this.seen = this.applied = look(path);
  }

  /** To be called about once a second. */
  moved(): boolean {
    const now = look(this.path);
    const atRest = now === this.seen;
    this.seen = now;
    if (!atRest || now === this.applied) return false;
    this.applied = now;
    return true;
  }
}
