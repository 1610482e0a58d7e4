import { existsSync, renameSync, statSync } from 'node:fs';
import { basename } from 'node:path';
import Database from 'better-sqlite3';
import { inputError } from '../core/problems.js';
import { isDamage } from './damage.js';
import { accessRefusal } from './disk-refusal.js';
import { foreignDatabase, refuseForeignFile } from './foreign-file.js';
import { goOnAfter, leftAt, wordsOfNumbers, type LeftInFile } from './left-in-file.js';
import { runsLeftBehind, type RunLeftBehind } from './runs-left-behind.js';
import { applicationId, migrate, oldestReadable, schemaVersion } from './schema.js';
import { checkOfStart } from './start-check.js';

/** Something that people must be told about the store, though it works. */
export interface Notice {
  readonly code: 'damaged-file-set-aside' | 'file-lost';
  readonly sentence: string;
  /** Where the damaged file is now, or where what was found in place of the lost one is. */
  readonly file: string;
  /** Runs that were open in a file found damaged at the start. */
  readonly runs?: readonly RunLeftBehind[];
}

/** ms that opening waits for another's lock before it gives up. */
const busyTimeout = 5000;
/** ms that a running writer waits for another's lock: acquisition goes on in the same thread, and the next tick tries again. */
export const retryAfter = 20;
/** bytes that the write-ahead log may keep once a reader no longer holds it open. */
const logLimit = 16 * 2 ** 20;

/**
 * Opens a store for reading beside a writer.
 * @throws InputError when there is no such file or it is no store of this version.
 */
export function openForReading(path: string): Database.Database {
  if (!existsSync(path)) throw inputError(path, '', 'there is no such file; name the store that the daemon writes');
  refuseForeignFile(path);
  if (statSync(path).size === 0) throw inputError(path, '', 'has no bytes; name a store that a bench has recorded into');
  try {
    const db = new Database(path, { readonly: true, fileMustExist: true, timeout: busyTimeout });
    refuseForeign(db, path);
    const version = Number(db.pragma('user_version', { simple: true }));
    if (version < oldestReadable || version > schemaVersion) {
      db.close();
      throw inputError(path, '', `was made by another version of Dwellkeeper; start the daemon once to bring it up to date`);
    }
    return db;
  } catch (error) {
    if (isDamage(error)) throw inputError(path, '', 'is damaged and cannot be read', error);
    throw accessRefusal(error, path, 'read') ?? error;
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
  const { db, notice } = begunAnew(path, now, damage);
  return { db, notices: [notice] };
}

/**
 * Replaces a file that turned out to be damaged while it was in use; `old` is closed. May be called again after it threw.
 * @throws SqliteError or a system error when the disk refuses
 */
export function replaceDamaged(old: Database.Database, path: string, now: number, damage: string, left: LeftInFile): { db: Database.Database; notice: Notice } {
  try {
    old.close();
  } catch {
    // A damaged file may refuse even that; it is renamed all the same.
  }
  return begunAnew(path, now, damage, left);
}

/**
 * Goes on in a new file where the one that was in use has lost its name: it was deleted, moved away or replaced. `old` is
 * closed; what it had committed is in it, wherever it is now. A file that was put in its place is set aside, never deleted.
 * May be called again after it threw.
 * @throws SqliteError or a system error when the disk refuses
 */
export function replaceLost(old: Database.Database, path: string, now: number, loss: 'gone' | 'another', left: LeftInFile): { db: Database.Database; notice: Notice } {
  try {
    // The log goes into the file that it belongs to, as far as that can be: its own name is about to be another's.
    old.pragma('wal_checkpoint(TRUNCATE)');
    old.close();
  } catch {
    // Its log is kept beside it, below.
  }
  const aside = setAside(path, now, loss === 'gone' ? 'gone' : 'found');
  const db = prepare(path, now);
  goOnAfter(db, left);
  const name = basename(path);
  const what = loss === 'gone' ? `${name} was deleted or moved away while it was in use` : `another file was put in the place of ${name} while that was in use; it was set aside as ${basename(aside)}`;
  const sentence = `${what}. A new store was begun, ${wordsOfNumbers(left)}; what was recorded before is only in the file that was taken away`;
  return { db, notice: { code: 'file-lost', sentence, file: aside } };
}

function begunAnew(path: string, now: number, damage: string, known?: LeftInFile): { db: Database.Database; notice: Notice } {
  const aside = setAside(path, now, 'damaged');
  const left = known ?? leftAt(aside);
  const db = prepare(path, now);
  goOnAfter(db, left, basename(aside));
  const open = left.open.length === 0 ? '' : `; run ${left.open.join(', ')} was going on in it and is not over there`;
  const sentence = `${basename(path)} was damaged (${damage}); it was set aside as ${basename(aside)} and a new store begun, ${wordsOfNumbers(left)}${open}`;
  return { db, notice: { code: 'damaged-file-set-aside', sentence, file: aside, ...(known === undefined && { runs: runsLeftBehind(aside) }) } };
}

/** What is wrong with the file, or `null`. */
function damageOf(path: string): string | null {
  if (statSync(path).size === 0) return 'it had no bytes';
  let db: Database.Database | undefined;
  try {
    db = new Database(path, { timeout: busyTimeout });
    refuseForeign(db, path);
    const found = checkOfStart(db);
    if (found !== null) return found;
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

function refuseForeign(db: Database.Database, path: string): void {
  const id = Number(db.pragma('application_id', { simple: true }));
  const tables = db.prepare<[], number>('SELECT count(*) FROM sqlite_schema').pluck().get() ?? 0;
  if (id === applicationId || tables === 0) return;
  db.close();
  throw foreignDatabase(path);
}

function prepare(path: string, now: number): Database.Database {
  const db = new Database(path, { timeout: busyTimeout });
  try {
    setUp(db, now);
  } catch (error) {
    db.close();
    throw error;
  }
  return db;
}

function setUp(db: Database.Database, now: number): void {
  // So that pages which hold nothing any more can be given back to the disk; must come before the first table.
  db.pragma('auto_vacuum = INCREMENTAL');
  db.pragma('journal_mode = WAL');
  // FULL syncs the log at every commit, so that what was acknowledged outlives a power cut; NORMAL could lose the
  // seconds since the last checkpoint. It costs a sync a second for each channel, which even a memory card affords.
  db.pragma('synchronous = FULL');
  db.pragma(`journal_size_limit = ${logLimit}`);
  // The store empties the log from time to time in a thread of its own; a commit does so only where that was not enough.
  db.pragma(`wal_autocheckpoint = ${logLimit / 4096}`);
  db.pragma('foreign_keys = ON');
  db.pragma('cell_size_check = ON');
  migrate(db);
  // Files begun before that was set: once, when there is room.
  if (Number(db.pragma('auto_vacuum', { simple: true })) !== 2) makeShrinkable(db);
  db.prepare<[string, string]>('INSERT OR IGNORE INTO facts (key, value) VALUES (?, ?)').run('begun', String(now));
  db.pragma(`busy_timeout = ${retryAfter}`);
}

function makeShrinkable(db: Database.Database): void {
  try {
    db.pragma('auto_vacuum = INCREMENTAL');
    db.exec('VACUUM');
  } catch {
    // It works without: room is then used again but not given back.
  }
}

function setAside(path: string, now: number, as: 'damaged' | 'gone' | 'found'): string {
  if (![path, `${path}-wal`, `${path}-shm`].some((file) => existsSync(file))) return `${path}.${as}`;
  const stamp = new Date(now).toISOString().replaceAll(/[-:]|\.\d+/g, '');
  let aside = `${path}.${as}-${stamp}`;
  for (let i = 2; ['', '-wal', '-shm'].some((end) => existsSync(aside + end)); i++) aside = `${path}.${as}-${stamp}-${i}`;
  // The log first: if power fails between the two, the file is found damaged again and nothing is mixed.
  for (const end of ['-wal', '-shm', '']) if (existsSync(path + end)) renameSync(path + end, aside + end);
  return aside;
}
