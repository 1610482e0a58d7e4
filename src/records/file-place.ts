import { statSync } from 'node:fs';

/**
 * Which file lies at a path: another one after a delete, a move or a copy put in its place. A program that has a file
 * open goes on writing into it wherever it is, even into one that no longer has a name.
 */
export interface FilePlace {
  readonly device: bigint;
  readonly inode: bigint;
}

/** `null` where there is none. @throws a system error where that cannot be seen */
export function fileAt(path: string): FilePlace | null {
  const found = statSync(path, { bigint: true, throwIfNoEntry: false });
  return found === undefined ? null : { device: found.dev, inode: found.ino };
}

/** What became of the file that was at a path; `null` while it still is there, or nobody can tell. */
export function lossOf(path: string, known: FilePlace | null): 'gone' | 'another' | null {
  if (known === null) return null;
  try {
    const now = fileAt(path);
    if (now === null) return 'gone';
    return now.device === known.device && now.inode === known.inode ? null : 'another';
  } catch {
    return null; // a disk that does not answer shows at the next commit
  }
}
