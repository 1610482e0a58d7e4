import { dirname } from 'node:path';
import Database from 'better-sqlite3';
import { inputError } from '../core/problems.js';
import { makeFolder } from '../files/make-folder.js';

/**
 * Makes sure that one process at a time writes a store: two writers would number runs against each other, and one
 * must not set a file aside under the other. The lock is SQLite's own on a small file beside the store, so the
 * operating system lets go of it however the process ends.
 * The folder is made when it is not there.
 * @returns releases the lock.
 * @throws InputError when another process holds it, or nothing can be written there.
 */
export function lockForWriting(path: string): () => void {
  let lock: Database.Database | undefined;
  try {
    makeFolder(dirname(path));
    lock = new Database(`${path}.lock`, { timeout: 1000 });
    lock.pragma('journal_mode = MEMORY');
    lock.exec('BEGIN EXCLUSIVE');
  } catch (cause) {
    lock?.close();
    if (cause instanceof Database.SqliteError && cause.code.startsWith('SQLITE_BUSY')) {
      throw inputError(path, '', 'is in use by another running Dwellkeeper; stop that one first', cause);
    }
    const words = cause instanceof Error ? cause.message : String(cause);
    throw inputError(path, '', `cannot be written (${words}); the store needs a folder in which this user may write`, cause);
  }
  const held = lock;
  return () => {
    held.close();
  };
}
