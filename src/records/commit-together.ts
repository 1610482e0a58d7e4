import type Database from 'better-sqlite3';
import type { TraceWriter } from './trace-writer.js';

/**
 * Commits what waits in several writers of a file in one transaction: one sync for all of them, whatever their number.
 * Where that fails each is tried by itself, so that one whose samples are refused keeps no other from recording; what
 * could not be written waits on in its writer, which tells why.
 * @returns whether everything is safe on the disk
 */
export function commitTogether(db: Database.Database, writers: readonly TraceWriter[]): boolean {
  const waiting = writers.filter((writer) => writer.isWaiting);
  if (waiting.length === 0) return true;
  try {
    const positions = db.transaction(() => waiting.map((writer) => writer.write())).immediate();
    waiting.forEach((writer, i) => writer.committed(positions[i]));
    return true;
  } catch (error) {
    if (waiting.length === 1 || isForAll(error)) {
      for (const writer of waiting) writer.refused(error);
      return false;
    }
    return waiting.map((writer) => commitTogether(db, [writer])).every(Boolean);
  }
}

/** Another program holds the file: each further attempt would only wait for it once more. */
const isForAll = (error: unknown): boolean => error instanceof Error && 'code' in error && String(error.code).startsWith('SQLITE_BUSY');
