import Database from 'better-sqlite3';
import { inputError } from '../core/problems.js';

/**
 * Makes sure that one process at a time writes a store: two writers would number runs against each other, and one
 * must not set a file aside under the other. The lock is SQLite's own on a small file beside the store, so the
 * operating system lets go of it however the process ends.
 * @returns releases the lock.
 * @throws InputError when another process holds it.
 */
export function lockForWriting(path: string): () => void {
  const lock = new Database(`${path}.lock`, { timeout: 1000 });
  try {
    lock.pragma('journal_mode = MEMORY');
    lock.exec('BEGIN EXCLUSIVE');
  } catch (cause) {
    lock.close();
    throw inputError(path, '', 'is in use by another running Dwellkeeper; stop that one first', cause);
  }
  return () => {
    lock.close();
  };
}
