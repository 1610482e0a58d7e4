import { existsSync, renameSync, statSync } from 'node:fs';
import { basename } from 'node:path';
import Database from 'better-sqlite3';
import { inputError } from '../core/problems.js';
import { applicationId, migrate, schemaVersion } from './schema.js';

/** Something that people must be told about the store, though it works. */
export interface Notice {
  readonly code: 'damaged-file-set-aside';
  readonly sentence: string;
  /** Where the damaged file is now. */
  readonly file: string;
}

/** ms that one connection waits for another's lock before it gives up. */
const busyTimeout = 5000;
/** bytes that the write-ahead log may keep once a reader no longer holds it open. */
const logLimit = 16 * 2 ** 20;

/**
 * Opens a store for reading beside a writer.
 * @throws InputError when there is no such file or it is no store of this version.
 */
export function openForReading(path: string): Database.Database {
  if (!existsSync(path)) throw inputError(path, '', 'there is no such file; name the store that the daemon writes');
  try {
    const db = new Database(path, { readonly: true, fileMustExist: true, timeout: busyTimeout });
    refuseForeign(db, path);
    if (Number(db.pragma('user_version', { simple: true })) !== schemaVersion) {
      db.close();
      throw inputError(path, '', `was made by another version of Dwellkeeper; start the daemon once to bring it up to date`);
    }
    return db;
  } catch (error) {
    if (!isDamage(error)) throw error;
    throw inputError(path, '', 'is damaged and cannot be read', error);
  }
}

/**
 * Opens a store for writing and checks it. A damaged file is never repaired in place and never deleted: it is renamed
 * with a time stamp and a new one begun, so that the bench records on and the old file can be looked at.
 * @param now ms since 1970, for the stamp.
 */
export function openForWriting(path: string, now: number): { db: Database.Database; notices: Notice[] } {
  const damage = existsSync(path) ? damageOf(path) : null;
  if (damage === null) return { db: prepare(path, now), notices: [] };
  const aside = setAside(path, now);
  const salvage = lastOf(aside);
  const db = prepare(path, now);
  // Numbers go on where the old file stopped, as far as it still tells, so that no certificate number is given twice.
  const keep = db.prepare<[string, string]>('INSERT INTO facts (key, value) VALUES (?, ?)');
  if (salvage.run > 0) keep.run('runs before', String(salvage.run));
  if (salvage.seal !== null) keep.run('seal before', salvage.seal);
  keep.run('file before', basename(aside));
  const after = salvage.run > 0 ? `run numbers go on after ${salvage.run}` : 'run numbers begin anew';
  const sentence = `${basename(path)} was damaged (${damage}); it was set aside as ${basename(aside)} and a new store begun, ${after}`;
  return { db, notices: [{ code: 'damaged-file-set-aside', sentence, file: aside }] };
}

/** What is wrong with the file, or `null`. */
function damageOf(path: string): string | null {
  if (statSync(path).size === 0) return 'it had no bytes';
  let db: Database.Database | undefined;
  try {
    db = new Database(path, { timeout: busyTimeout });
    refuseForeign(db, path);
    const found = db.prepare<[], string>('PRAGMA quick_check(1)').pluck().get();
    if (found !== 'ok') return found ?? 'the check said nothing';
    const version = Number(db.pragma('user_version', { simple: true }));
    if (version > schemaVersion) throw inputError(path, '', 'was made by a later version of Dwellkeeper; use that version or another file');
    return null;
  } catch (error) {
    if (isDamage(error)) return error.message;
    throw error;
  } finally {
    db?.close();
  }
}

const isDamage = (error: unknown): error is Error =>
  error instanceof Database.SqliteError && /^SQLITE_(CORRUPT|NOTADB)/.test(error.code);

function refuseForeign(db: Database.Database, path: string): void {
  const id = Number(db.pragma('application_id', { simple: true }));
  const tables = db.prepare<[], number>('SELECT count(*) FROM sqlite_schema').pluck().get() ?? 0;
  if (id === applicationId || tables === 0) return;
  db.close();
  throw inputError(path, '', 'is a database of another program; name another file for the store');
}

function prepare(path: string, now: number): Database.Database {
  const db = new Database(path, { timeout: busyTimeout });
  db.pragma('journal_mode = WAL');
  // FULL syncs the log at every commit, so that what was acknowledged outlives a power cut; NORMAL could lose the
  // seconds since the last checkpoint. It costs a sync a second for each channel, which even a memory card affords.
  db.pragma('synchronous = FULL');
  db.pragma(`journal_size_limit = ${logLimit}`);
  db.pragma('foreign_keys = ON');
  db.pragma('cell_size_check = ON');
  migrate(db);
  db.prepare<[string, string]>('INSERT OR IGNORE INTO facts (key, value) VALUES (?, ?)').run('begun', String(now));
  return db;
}

function setAside(path: string, now: number): string {
  const stamp = new Date(now).toISOString().replaceAll(/[-:]|\.\d+/g, '');
  let aside = `${path}.damaged-${stamp}`;
  for (let i = 2; existsSync(aside); i++) aside = `${path}.damaged-${stamp}-${i}`;
  // The log first: if power fails between the two, the file is found damaged again and nothing is mixed.
  for (const end of ['-wal', '-shm', '']) if (existsSync(path + end)) renameSync(path + end, aside + end);
  return aside;
}

/** Last run number and last seal of a damaged file, as far as they can still be read. */
function lastOf(path: string): { run: number; seal: string | null } {
  const read = (sql: string): unknown => {
    try {
      const db = new Database(path, { fileMustExist: true });
      try {
        return db.prepare<[], unknown>(sql).pluck().get() ?? null;
      } finally {
        db.close();
      }
    } catch {
      return null; // unreadable is what is expected of a damaged file
    }
  };
  const run = Number(read('SELECT max(number) FROM runs') ?? read("SELECT value FROM facts WHERE key = 'runs before'") ?? 0);
  const seal = read('SELECT seal FROM ledger ORDER BY number DESC LIMIT 1');
  return { run: Number.isSafeInteger(run) && run > 0 ? run : 0, seal: typeof seal === 'string' && /^[0-9a-f]{64}$/.test(seal) ? seal : null };
}
