import type Database from 'better-sqlite3';
import { RunSearch } from './run-search.js';

/** Marks a file as ours ('DWK1'), so that no other program's database is taken for a damaged store. */
export const applicationId = 0x44574b31;

const neverChanged = (table: string): string => `
  CREATE TRIGGER ${table}_not_changed BEFORE UPDATE ON ${table} BEGIN SELECT RAISE(ABORT, '${table} are never changed'); END;
  CREATE TRIGGER ${table}_not_deleted BEFORE DELETE ON ${table} BEGIN SELECT RAISE(ABORT, '${table} are never deleted'); END;`;

/** Each step brings the file from version i to i + 1; steps already released are never edited. */
const steps: readonly string[] = [
  `
  CREATE TABLE facts (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;

  CREATE TABLE channels (
    id INTEGER PRIMARY KEY, bench TEXT NOT NULL, name TEXT NOT NULL, unit TEXT NOT NULL, UNIQUE (bench, name)
  ) STRICT;

  -- A continuous stretch of recording: at 'time' (s) the wall clock showed 'wall' (ms since 1970, UTC).
  CREATE TABLE segments (
    id INTEGER PRIMARY KEY, channel INTEGER NOT NULL REFERENCES channels, time REAL NOT NULL, wall REAL NOT NULL
  ) STRICT;
  CREATE INDEX segments_of_channel ON segments (channel, id);
  ${neverChanged('segments')}

  -- 'position' counts the samples of a channel in the order received: the next block begins at position + count.
  -- Spans (s): the longest stretch of the summary of each level, NULL where there is no such summary.
  CREATE TABLE blocks (
    id INTEGER PRIMARY KEY, channel INTEGER NOT NULL REFERENCES channels, segment INTEGER NOT NULL REFERENCES segments,
    position INTEGER NOT NULL, count INTEGER NOT NULL CHECK (count > 0), tier INTEGER NOT NULL,
    earliest REAL NOT NULL, latest REAL NOT NULL, span0 REAL, span1 REAL, span2 REAL, span3 REAL, UNIQUE (channel, position)
  ) STRICT;
  CREATE INDEX blocks_by_time ON blocks (channel, earliest);
  CREATE INDEX blocks_by_tier ON blocks (channel, tier, position);

  -- Apart from their list, so that the list of a month is read at once.
  CREATE TABLE contents (block INTEGER PRIMARY KEY REFERENCES blocks, samples BLOB NOT NULL) STRICT;

  -- Extremes of stretches of a block, so that a long trace opens without its samples. The id is block + level * 2^40:
  -- summaries of one level lie together, and not in a table without rowid, where each would take pages of its own.
  CREATE TABLE summaries (id INTEGER PRIMARY KEY, content BLOB NOT NULL) STRICT;

  CREATE TABLE marks (
    id INTEGER PRIMARY KEY, channel INTEGER NOT NULL REFERENCES channels, time REAL NOT NULL, kind TEXT NOT NULL, text TEXT
  ) STRICT;
  CREATE INDEX marks_by_time ON marks (channel, time);
  ${neverChanged('marks')}

  -- Plans, thresholds and the like by the SHA-256 of their canonical JSON; 'source' is what a person wrote.
  CREATE TABLE versions (
    hash TEXT PRIMARY KEY, kind TEXT NOT NULL, content TEXT NOT NULL, source TEXT, wall REAL NOT NULL
  ) STRICT, WITHOUT ROWID;
  ${neverChanged('versions')}

  CREATE TABLE runs (
    number INTEGER PRIMARY KEY, bench TEXT NOT NULL, channel INTEGER NOT NULL REFERENCES channels,
    state TEXT NOT NULL CHECK (state IN ('open', 'finished', 'interrupted')),
    verdict TEXT CHECK (verdict IN ('pass', 'fail', 'inconclusive')),
    started REAL NOT NULL, ended REAL, started_wall REAL NOT NULL, ended_wall REAL,
    plan TEXT REFERENCES versions, thresholds TEXT NOT NULL REFERENCES versions, instrument TEXT, software TEXT NOT NULL,
    outcome TEXT,
    -- What had been received when it was closed: samples of the channel (a position), and the last mark (an id).
    -- Whatever comes later does not belong to it, even with an earlier time.
    samples_end INTEGER, marks_end INTEGER,
    CHECK ((state = 'open') = (verdict IS NULL)), CHECK ((state = 'open') = (outcome IS NULL)),
    CHECK ((state = 'open') = (ended IS NULL)), CHECK (NOT (state = 'interrupted' AND verdict = 'pass'))
  ) STRICT;
  CREATE INDEX runs_open ON runs (state) WHERE state = 'open';
  CREATE TRIGGER runs_without_holes BEFORE INSERT ON runs
    WHEN NEW.number IS NOT 1 + coalesce((SELECT max(number) FROM runs), (SELECT CAST(value AS INTEGER) FROM facts WHERE key = 'runs before'), 0)
    BEGIN SELECT RAISE(ABORT, 'runs are numbered without holes'); END;
  CREATE TRIGGER runs_begin_open BEFORE INSERT ON runs WHEN NEW.state <> 'open'
    BEGIN SELECT RAISE(ABORT, 'a run begins open'); END;
  CREATE TRIGGER runs_final BEFORE UPDATE ON runs WHEN OLD.state <> 'open'
    BEGIN SELECT RAISE(ABORT, 'a run that is over is never changed'); END;
  CREATE TRIGGER runs_identity BEFORE UPDATE ON runs
    WHEN NEW.number <> OLD.number OR NEW.bench <> OLD.bench OR NEW.channel <> OLD.channel
      OR NEW.plan IS NOT OLD.plan OR NEW.thresholds <> OLD.thresholds
    BEGIN SELECT RAISE(ABORT, 'number, bench, channel, plan and thresholds of a run never change'); END;
  CREATE TRIGGER runs_not_deleted BEFORE DELETE ON runs BEGIN SELECT RAISE(ABORT, 'runs are never deleted'); END;

  CREATE TABLE events (
    id INTEGER PRIMARY KEY, channel INTEGER NOT NULL REFERENCES channels, run INTEGER REFERENCES runs,
    kind TEXT NOT NULL, at REAL NOT NULL, event TEXT NOT NULL
  ) STRICT;
  CREATE INDEX events_by_time ON events (channel, at);
  CREATE INDEX events_of_run ON events (run) WHERE run IS NOT NULL;
  CREATE TRIGGER events_of_open_run BEFORE INSERT ON events
    WHEN NEW.run IS NOT NULL AND (SELECT state FROM runs WHERE number = NEW.run) <> 'open'
    BEGIN SELECT RAISE(ABORT, 'a run that is over takes no more events'); END;
  ${neverChanged('events')}

  CREATE TABLE entries (
    id INTEGER PRIMARY KEY, run INTEGER NOT NULL REFERENCES runs, kind TEXT NOT NULL, wall REAL NOT NULL,
    who TEXT NOT NULL, why TEXT, content TEXT NOT NULL
  ) STRICT;
  CREATE INDEX entries_of_run ON entries (run);
  ${neverChanged('entries')}

  CREATE TABLE ledger (
    number INTEGER PRIMARY KEY, run INTEGER NOT NULL REFERENCES runs, entry INTEGER REFERENCES entries,
    record TEXT NOT NULL, previous TEXT NOT NULL, seal TEXT NOT NULL, signer TEXT, signature TEXT
  ) STRICT;
  CREATE INDEX ledger_of_run ON ledger (run);
  CREATE TRIGGER ledger_without_holes BEFORE INSERT ON ledger
    WHEN NEW.number IS NOT 1 + coalesce((SELECT max(number) FROM ledger), 0)
    BEGIN SELECT RAISE(ABORT, 'the ledger is numbered without holes'); END;
  ${neverChanged('ledger')}
  `,
  `
  -- The stretch that was read to judge the run: from idle time before it to the reading that closed it (s), and what
  -- was known of the lid when reading began. NULL where nobody said.
  ALTER TABLE runs ADD COLUMN read_from REAL;
  ALTER TABLE runs ADD COLUMN read_to REAL;
  ALTER TABLE runs ADD COLUMN read_lid TEXT CHECK (read_lid IN ('open', 'closed'));
  `,
  `
  CREATE INDEX segments_by_time ON segments (channel, time, id);
  CREATE INDEX runs_by_start ON runs (channel, started);
  CREATE INDEX runs_by_wall ON runs (started_wall);
  CREATE INDEX entries_removed ON entries (run) WHERE kind = 'trace-removed';

  -- Serial numbers that a run was ever said to have tested, trimmed and in small letters.
  CREATE TABLE serials (serial TEXT NOT NULL, run INTEGER NOT NULL, PRIMARY KEY (serial, run)) STRICT, WITHOUT ROWID;
  ${neverChanged('serials')}

  -- What was said about runs, for searching. Made from the other tables, and made anew from them at any time.
  CREATE VIRTUAL TABLE run_words USING fts5(
    ordered, serial, hose, plan, verdict, other, content = '', contentless_delete = 1, tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3'
  );
  `,
  `
  -- Who changed what at the bench: the record is the whole entry as canonical JSON, sealed in a chain of its own.
  CREATE TABLE audit (
    number INTEGER PRIMARY KEY, wall REAL NOT NULL, who TEXT NOT NULL, subject TEXT NOT NULL, record TEXT NOT NULL,
    previous TEXT NOT NULL, seal TEXT NOT NULL, signer TEXT, signature TEXT
  ) STRICT;
  CREATE INDEX audit_of_subject ON audit (subject, number);
  CREATE TRIGGER audit_without_holes BEFORE INSERT ON audit
    WHEN NEW.number IS NOT 1 + coalesce((SELECT max(number) FROM audit), 0)
    BEGIN SELECT RAISE(ABORT, 'audit entries are numbered without holes'); END;
  ${neverChanged('audit')}
  `,
];

/** The oldest version of a file that can be read without bringing it up to date; what came later is then not there. */
export const oldestReadable = 3;

/** The version of a file that this program writes. */
export const schemaVersion = steps.length;

/** The version from which on runs can be searched. */
const searchSince = 3;

/** Brings the file to the present version, all or nothing. */
export function migrate(db: Database.Database): void {
  db.transaction(() => {
    const from = Number(db.pragma('user_version', { simple: true }));
    for (const step of steps.slice(from)) db.exec(step);
    if (from > 0 && from < searchSince) new RunSearch(db).rebuild();
    db.pragma(`application_id = ${applicationId}`);
    db.pragma(`user_version = ${schemaVersion}`);
  }).immediate();
}
