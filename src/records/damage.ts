import Database from 'better-sqlite3';

/** Whether an error says that the file itself is damaged, or no database at all; a full or failing disk is neither. */
export const isDamage = (error: unknown): error is Error =>
  error instanceof Database.SqliteError && /^SQLITE_(CORRUPT|NOTADB)/.test(error.code);
