import { accessSync, constants } from 'node:fs';
import { inputError, type InputError } from '../core/problems.js';

const byThisUser = ' by this user; ask its owner, or run this as the user who records';

/** What a person must do where a store could not be begun because its disk refused; `null` for any other error. */
export function diskRefusal(error: unknown, path: string): InputError | null {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  if (code.startsWith('SQLITE_FULL') || code === 'ENOSPC') return inputError(path, '', 'the disk is full; make room where the records are kept, then start again', error);
  if (code.startsWith('SQLITE_READONLY') || code === 'EROFS') return inputError(path, '', 'the disk can only be read; make it writable, then start again', error);
  if (code.startsWith('SQLITE_IOERR')) return inputError(path, '', 'the disk refuses to write or read; look at the system log, then start again', error);
  return null;
}

/** What a person must do where the rights of this user do not let SQLite open a file; `null` for any other error. */
export function accessRefusal(error: unknown, path: string, to: 'read' | 'write'): InputError | null {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  if (!/^SQLITE_(CANTOPEN|READONLY|PERM|AUTH)/.test(code)) return null;
  if (isRefused(path, to === 'read' ? constants.R_OK : constants.W_OK)) return inputError(path, '', `may not be ${to === 'read' ? 'read' : 'written'}${byThisUser}`, error);
  if (code.startsWith('SQLITE_READONLY') && to === 'write') return null;
  return inputError(path, '', 'cannot be opened: SQLite needs a folder in which this user may write; copy the store to one', error);
}

/** Asked before anything is locked or made beside the file. @throws InputError where it is there and this user may not write it */
export function refuseUnwritable(path: string): void {
  if (isRefused(path, constants.W_OK)) throw inputError(path, '', `may not be written${byThisUser}`);
}

function isRefused(path: string, mode: number): boolean {
  try {
    accessSync(path, mode);
    return false;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EACCES';
  }
}
