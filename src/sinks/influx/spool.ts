import Database from 'better-sqlite3';
import { z } from 'zod';
import type { FoundEvent, Verdict } from '../../core/outcome.js';
import type { MarkKind } from '../../core/trace.js';
import { BlockTable } from '../../records/block-table.js';
import { Channels, type Channel } from '../../records/channels.js';
import { Runs } from '../../records/runs.js';
import { CursorKeeper, type Cursor } from './cursor.js';
import type { Waiting } from './forwarded.js';
import { lineOf, type Point } from './line.js';
import { RecordPoints, type Origin } from './record-points.js';
import { SampleSpool, type SampleBounds, type SampleTally } from './sample-spool.js';
import type { Engine } from './settings.js';
import { Stamps } from './stamps.js';

/** A part of the store to send, and the cursor once it is safe in the database. */
export interface Batch extends SampleTally {
  readonly lines: string[];
  readonly cursor: Cursor;
  /** The cursor is another than before. */
  readonly moved: boolean;
  /** The store has more already. */
  readonly more: boolean;
}

/** Rows of events, marks or the ledger that one batch reads at most. */
const rowsAtOnce = 500;

const judgedAgain = z.object({ kind: z.literal('judged-again'), outcome: z.object({ verdict: z.enum(['pass', 'fail', 'inconclusive']) }) });

/**
 * The store as the spool of the forwarder: all that was acknowledged lies in it already, so nothing is written twice.
 * Has a connection of its own, which never waits long for the recorder's and whose commits are not synced: a cursor
 * that is lost with the power is an older cursor, and what it makes be sent again changes nothing.
 */
export class Spool {
  private readonly db: Database.Database;
  private readonly blocks: BlockTable;
  private readonly channels: Channels;
  private readonly runs: Runs;
  private readonly samples: SampleSpool;
  private readonly cursors: CursorKeeper;
  private readonly select;

  /** @param target names the database that the cursor is for */
  constructor(path: string, target: string) {
    const db = new Database(path, { fileMustExist: true, timeout: 200 });
    this.db = db;
    db.pragma('synchronous = NORMAL');
    // Emptying the log syncs the disk: that is left to the recorder, who does it in its own time.
    db.pragma('wal_autocheckpoint = 0');
    this.blocks = new BlockTable(db);
    this.channels = new Channels(db);
    this.runs = new Runs(db);
    this.samples = new SampleSpool(db, this.blocks);
    this.cursors = new CursorKeeper(db, target);
    this.select = {
      events: db.prepare<[number, number], { id: number; channel: number; run: number | null; event: string }>('SELECT id, channel, run, event FROM events WHERE id > ? ORDER BY id LIMIT ?'),
      marks: db.prepare<[number, number], { id: number; channel: number; time: number; kind: MarkKind; text: string | null }>('SELECT id, channel, time, kind, text FROM marks WHERE id > ? ORDER BY id LIMIT ?'),
      ledger: db.prepare<[number, number], { number: number; run: number; entry: number | null; kind: string | null; wall: number | null; content: string | null }>(
        'SELECT ledger.number, ledger.run, ledger.entry, entries.kind, entries.wall, entries.content FROM ledger LEFT JOIN entries ON entries.id = ledger.entry WHERE ledger.number > ? ORDER BY ledger.number LIMIT ?',
      ),
    };
  }

  /** ms since 1970 when the store was begun: a clock that shows less is not set. */
  begun(): number {
    return Number(this.db.prepare<[], string>("SELECT value FROM facts WHERE key = 'begun'").pluck().get() ?? 0);
  }

  load(): Cursor | null {
    return this.cursors.load();
  }

  /** @throws SQLite's error when the disk refuses */
  save(cursor: Cursor): void {
    this.cursors.save(cursor);
  }

  /** What of all channels is not forwarded yet. */
  behind(cursor: Cursor): Waiting {
    return this.samples.behind(this.channels.list(), cursor);
  }

  /** The next part of the store after a cursor. @param now ms since 1970 */
  next(cursor: Cursor, engine: Engine, bounds: SampleBounds, now: number): Batch {
    return this.db.transaction(() => this.read(structuredClone(cursor), engine, bounds, now))();
  }

  close(): void {
    this.db.close();
  }

  private read(cursor: Cursor, engine: Engine, bounds: SampleBounds, now: number): Batch {
    const stamps = new Stamps(engine, cursor.lanes);
    const place = placeOf(cursor);
    const channels = this.channels.list();
    const lines: string[] = [];
    const tally = this.samples.append(lines, channels, cursor, engine, stamps, bounds, now);
    const points = new RecordPoints(stamps);
    const origins = new Map(channels.map((channel) => [channel.id, channel]));
    const add = (point: Point) => {
      const line = lineOf(point, engine);
      if (line !== null) lines.push(line);
    };
    const [events, marks, ledger] = [this.select.events.all(cursor.events, rowsAtOnce), this.select.marks.all(cursor.marks, rowsAtOnce), this.select.ledger.all(cursor.ledger, rowsAtOnce / 10)];
    for (const { id, channel, run, event } of events) {
      const found = JSON.parse(event) as FoundEvent;
      add(points.event(this.origin(origins, channel, run), id, run, found, this.wall(channel, found.at)));
      cursor.events = id;
    }
    for (const { id, channel, time, kind, text } of marks) {
      const mark = text === null ? { time, kind } : { time, kind, text };
      add(points.mark(this.origin(origins, channel, null), id, mark, this.wall(channel, time)));
      cursor.marks = id;
    }
    for (const row of ledger) {
      const run = this.runs.get(row.run);
      if (run !== null) {
        const origin = { ...this.origin(origins, run.channel, null), plan: run.planName };
        if (row.entry === null) points.run(origin, run, (time) => this.wall(run.channel, time)).forEach(add);
        else if (row.kind === 'judged-again' && row.wall !== null) {
          const verdict = verdictIn(row.content);
          if (verdict !== null) add(points.verdict(origin, run.number, verdict, 'judged-again', row.wall));
        }
      }
      cursor.ledger = row.number;
    }
    const rowsLeft = events.length === rowsAtOnce || marks.length === rowsAtOnce || ledger.length === rowsAtOnce / 10;
    return { ...tally, lines, cursor, moved: placeOf(cursor) !== place, more: tally.samplesLeft || rowsLeft };
  }

  private origin(channels: ReadonlyMap<number, Channel>, channel: number, run: number | null): Origin {
    const known = channels.get(channel);
    const plan = run === null ? null : (this.runs.get(run)?.planName ?? null);
    return { channel, bench: known?.bench ?? '', name: known?.name ?? '', plan };
  }

  private wall(channel: number, time: number): number {
    return this.channels.wallOf(channel, time) ?? 0;
  }
}

function verdictIn(content: string | null): Verdict | null {
  const found = judgedAgain.safeParse(JSON.parse(content ?? 'null'));
  return found.success ? found.data.outcome.verdict : null;
}

/** Grows with everything that a cursor passes. */
export const placeOf = ({ samples, events, marks, ledger }: Cursor): number => Object.values(samples).reduce((sum, count) => sum + count, events + marks + ledger);
