import { closeSync, fsyncSync, mkdirSync, openSync, readFileSync, renameSync, statSync, writeSync } from 'node:fs';
import { createHash } from 'node:crypto';
import { basename, join, resolve } from 'node:path';

/**
 * Keeps a copy of each settings file as it last was when everything started well, for the morning after a power cut that
 * left a file of no bytes or of zeros. A file that a person got wrong is not lost, and no copy takes its place.
 */
export class LastGood {
  constructor(
    /** Where the copies are; made when the first one is kept. */
    readonly folder: string,
  ) {}

  /** The path to read instead of a file that is lost; `null` where it is not lost or there is no copy. */
  insteadOf(path: string): string | null {
    if (!isLost(path)) return null;
    const copy = this.copyOf(path);
    return isLost(copy) ? null : copy;
  }

  /** Since when the copy holds, for people: `2027-03-01 08:15 UTC`. */
  keptAt(path: string): string {
    const found = statSync(this.copyOf(path), { throwIfNoEntry: false });
    return found === undefined ? 'unknown' : `${found.mtime.toISOString().slice(0, 16).replace('T', ' ')} UTC`;
  }

  /** Keeps a copy of a file as it is now. @throws Error of the file system */
  keep(path: string): void {
    const bytes = readFileSync(path);
    const copy = this.copyOf(path);
    const before = statSync(copy, { throwIfNoEntry: false });
    if (before?.size === bytes.length && readFileSync(copy).equals(bytes)) return;
    mkdirSync(this.folder, { recursive: true, mode: 0o700 });
    const part = `${copy}.part`;
    // Beside, synced, renamed, folder synced: at any instant either the old copy or the new one is whole.
    synced(part, (handle) => writeSync(handle, bytes), 'w');
    renameSync(part, copy);
    synced(this.folder, () => undefined, 'r');
  }

  /** Keeps copies of all that are not lost; that one cannot be kept is worth a word and no more. */
  keepAll(paths: readonly string[], failed: (path: string, error: unknown) => void): void {
    for (const path of paths) {
      try {
        if (!isLost(path)) this.keep(path);
      } catch (error) {
        failed(path, error);
      }
    }
  }

  private copyOf(path: string): string {
    const whole = resolve(path);
    return join(this.folder, `${createHash('sha256').update(whole).digest('hex').slice(0, 8)}-${basename(whole)}`);
  }
}

/** Whether a file is missing, has no bytes, or nothing but zeros: what a power cut leaves, and no person. */
export function isLost(path: string): boolean {
  try {
    return readFileSync(path).every((byte) => byte === 0);
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'ENOENT';
  }
}

function synced(path: string, work: (handle: number) => unknown, flags: 'r' | 'w'): void {
  const handle = openSync(path, flags, 0o600);
  try {
    work(handle);
    fsyncSync(handle);
  } finally {
    closeSync(handle);
  }
}
