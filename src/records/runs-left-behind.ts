import Database from 'better-sqlite3';
import type { Instrument } from '../core/trace.js';
import { sha256 } from './canonical-json.js';
import { entrySchema, type Entry } from './entries.js';

/** Something kept under its content hash in a file that was given up. */
export interface VersionLeftBehind {
  readonly content: unknown;
  readonly source: string | null;
}

/** A run that was open in a file found damaged at the start, as far as that file still tells of it. */
export interface RunLeftBehind {
  /** In that file. */
  readonly number: number;
  readonly bench: string;
  /** Name of the channel that it was judged by. */
  readonly channel: string;
  /** ms since 1970, when it began. */
  readonly wall: number;
  /** `null` without one, and where it cannot be read. */
  readonly plan: VersionLeftBehind | null;
  readonly thresholds: VersionLeftBehind | null;
  readonly instrument: Instrument | null;
  /** What had been said of it. */
  readonly said: readonly { readonly entry: Entry; readonly who: string; readonly why: string | null }[];
}

interface RunRow {
  number: number;
  bench: string;
  channel: string;
  wall: number;
  plan: string | null;
  thresholds: string;
  instrument: string | null;
}

/** Open runs of a damaged file. Each part of them that cannot be read is left out; nothing is thrown for it. */
export function runsLeftBehind(path: string): RunLeftBehind[] {
  return orElse<RunLeftBehind[]>([], () => {
    const db = new Database(path, { fileMustExist: true });
    try {
      const rows = orElse([], () =>
        db
          .prepare<[], RunRow>(
            `SELECT r.number, r.bench, c.name AS channel, r.started_wall AS wall, r.plan, r.thresholds, r.instrument
               FROM runs r JOIN channels c ON c.id = r.channel WHERE r.state = 'open' ORDER BY r.number`,
          )
          .all(),
      );
      return rows.map(({ plan, thresholds, instrument, ...row }) => ({
        ...row,
        plan: plan === null ? null : versionIn(db, plan),
        thresholds: versionIn(db, thresholds),
        instrument: orElse(null, () => JSON.parse(instrument ?? 'null') as Instrument | null),
        said: saidOf(db, row.number),
      }));
    } finally {
      db.close();
    }
  });
}

/** Only what still has its hash is believed. */
const versionIn = (db: Database.Database, hash: string): VersionLeftBehind | null =>
  orElse(null, () => {
    const row = db.prepare<[string], { content: string; source: string | null }>('SELECT content, source FROM versions WHERE hash = ?').get(hash);
    return row === undefined || sha256(row.content) !== hash ? null : { content: JSON.parse(row.content) as unknown, source: row.source };
  });

const saidOf = (db: Database.Database, run: number): RunLeftBehind['said'] =>
  orElse([], () =>
    db
      .prepare<[number], { content: string; who: string; why: string | null }>('SELECT content, who, why FROM entries WHERE run = ? ORDER BY id')
      .all(run)
      .flatMap(({ content, who, why }) => {
        const entry = orElse(null, () => entrySchema.parse(JSON.parse(content)));
        return entry === null ? [] : [{ entry, who, why }];
      }),
  );

function orElse<T>(otherwise: T, read: () => T): T {
  try {
    return read();
  } catch {
    return otherwise; // unreadable is what is expected of a damaged file
  }
}
