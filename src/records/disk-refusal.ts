import { inputError, type InputError } from '../core/problems.js';

/** What a person must do where a store could not be begun because its disk refused; `null` for any other error. */
export function diskRefusal(error: unknown, path: string): InputError | null {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  if (code.startsWith('SQLITE_FULL') || code === 'ENOSPC') return inputError(path, '', 'the disk is full; make room where the records are kept, then start again', error);
  if (code.startsWith('SQLITE_READONLY') || code === 'EROFS') return inputError(path, '', 'the disk can only be read; make it writable, then start again', error);
  if (code.startsWith('SQLITE_IOERR')) return inputError(path, '', 'the disk refuses to write or read; look at the system log, then start again', error);
  return null;
}
