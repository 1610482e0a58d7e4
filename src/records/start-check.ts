import type Database from 'better-sqlite3';
import { DamagedBlock } from './block-codec.js';
import { BlockTable } from './block-table.js';
import { sealOf } from './seal.js';

/** Newest blocks, records, runs and events that are read. */
const looked = 64;

/**
 * Reads what a start goes on from: the list of tables, the newest rows of each with their indexes, the newest seals. The
 * work does not grow with the file; what lies deeper is read by `verify`, and damage there shows when it is used.
 * @returns what is wrong, or `null`
 * @throws SqliteError for damage that SQLite itself sees
 */
export function checkOfStart(db: Database.Database): string | null {
  const tables = new Set(db.prepare<[], string>("SELECT name FROM sqlite_schema WHERE type = 'table'").pluck().all());
  if (!tables.has('ledger')) return null; // nothing of ours is in it yet
  // A row at either end of each table and index: their roots and outer pages.
  for (const table of ['facts', 'channels', 'segments', 'marks', 'versions', 'runs', 'events', 'entries', 'ledger', 'blocks', 'contents', 'summaries']) {
    const key = table === 'facts' ? 'key' : table === 'versions' ? 'hash' : 'rowid';
    for (const order of ['ASC', 'DESC']) db.prepare(`SELECT * FROM ${table} ORDER BY ${key} ${order} LIMIT ${looked}`).all();
  }
  for (const index of ['segments_of_channel ON channel, id', 'blocks_by_time ON channel, earliest', 'marks_by_time ON channel, time', 'events_by_time ON channel, at']) {
    const [name = '', by = ''] = index.split(' ON ');
    const table = name.split('_')[0] ?? '';
    const [first = '', second = ''] = by.split(', ');
    db.prepare(`SELECT ${by} FROM ${table} INDEXED BY ${name} WHERE ${first} IN (SELECT id FROM channels) ORDER BY ${first} DESC, ${second} DESC LIMIT ${looked}`).all();
  }
  return newestSeals(db) ?? newestBlocks(db);
}

function newestSeals(db: Database.Database): string | null {
  const rows = db
    .prepare<[number], { number: number; record: string; previous: string; seal: string }>('SELECT number, record, previous, seal FROM ledger ORDER BY number DESC LIMIT ?')
    .all(looked);
  const broken = rows.find(({ record, previous, seal }) => sealOf(record, previous) !== seal);
  return broken === undefined ? null : `sealed record ${broken.number} has changed`;
}

/** A block whose checksum differs costs its own samples only, and is told where it is read; a list without its content is damage. */
function newestBlocks(db: Database.Database): string | null {
  const blocks = new BlockTable(db);
  const ids = db.prepare<[number], { id: number; content: number | null }>(
    'SELECT id, contents.block AS content FROM blocks LEFT JOIN contents ON contents.block = blocks.id ORDER BY id DESC LIMIT ?',
  );
  for (const { id, content } of ids.all(looked)) {
    if (content === null) return `block ${id} has no samples`;
    try {
      blocks.samples(id);
    } catch (error) {
      if (!(error instanceof DamagedBlock)) throw error;
    }
  }
  return null;
}

/** Everything that SQLite finds wrong in the whole file, at most 100 sentences; takes time in proportion to the file. */
export function problemsOfFile(db: Database.Database): string[] {
  try {
    return db.prepare<[], string>('PRAGMA quick_check(100)').pluck().all().filter((found) => found !== 'ok');
  } catch (error) {
    return [error instanceof Error ? error.message : String(error)];
  }
}
