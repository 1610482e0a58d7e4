import type Database from 'better-sqlite3';
import type { Outcome, Verdict } from '../core/outcome.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import type { Instrument } from '../core/trace.js';
import { canonicalJson } from './canonical-json.js';
import type { Received } from './trace-reader.js';

export type RunState = 'open' | 'finished' | 'interrupted';

/** What is stored of a run, without its outcome. Times in s on the store's clock, walls in ms since 1970. */
export interface RunSummary {
  readonly number: number;
  readonly bench: string;
  readonly channel: number;
  readonly state: RunState;
  readonly verdict: Verdict | null;
  readonly from: number;
  readonly to: number | null;
  readonly fromWall: number;
  readonly toWall: number | null;
  /** Content hash of the plan; `null` without one. */
  readonly plan: string | null;
  readonly planName: string | null;
  readonly thresholds: string;
  readonly software: string;
}

export interface Run extends RunSummary {
  readonly instrument: Instrument | null;
  /** `null` while it is open. */
  readonly outcome: Outcome | null;
  /** What had been received when it was closed; `null` while it is open. */
  readonly received: Received | null;
  /** What was read to judge it; `null` while it is open, and where nobody said. */
  readonly reading: ReadingStretch | null;
}

/** What a run begins with. */
export interface RunStart {
  readonly channel: number;
  /** s */ readonly from: number;
  /** Hashes that `keepVersion` gave. */
  readonly plan: string | null;
  readonly thresholds: string;
  /** The transducer and its calibration as they are in force. */
  readonly instrument: Instrument | null;
}

interface Row extends RunSummary {
  readonly instrument: string | null;
  readonly outcome: string | null;
  readonly samplesEnd: number | null;
  readonly marksEnd: number | null;
  readonly readFrom: number | null;
  readonly readTo: number | null;
  readonly readLid: ReadingStretch['lid'];
}

/** How a run is closed. */
export interface RunClosing {
  readonly state: 'finished' | 'interrupted';
  readonly from: number;
  readonly to: number;
  readonly fromWall: number;
  readonly toWall: number;
  readonly outcome: Outcome;
  readonly received: Received;
  readonly reading: ReadingStretch | null;
}

const summary = `runs.number, runs.bench, runs.channel, runs.state, runs.verdict, runs.started AS "from", runs.ended AS "to",
  runs.started_wall AS fromWall, runs.ended_wall AS toWall, runs.plan, json_extract(versions.content, '$.plan') AS planName,
  runs.thresholds, runs.software`;
const source = 'runs LEFT JOIN versions ON versions.hash = runs.plan';

/** The runs of all benches, numbered without holes; one that is over is never changed. */
export class Runs {
  constructor(private readonly db: Database.Database) {}

  open(start: RunStart, bench: string, fromWall: number, software: string): number {
    return this.db
      .transaction(() => {
        const number = this.nextNumber();
        this.db
          .prepare(
            `INSERT INTO runs (number, bench, channel, state, started, started_wall, plan, thresholds, instrument, software)
             VALUES (?, ?, ?, 'open', ?, ?, ?, ?, ?, ?)`,
          )
          .run(
            number, bench, start.channel, start.from, fromWall, start.plan, start.thresholds,
            start.instrument && canonicalJson(start.instrument), software,
          );
        return number;
      })
      .immediate();
  }

  /** Closes an open run for good. Call within a transaction that seals it too. */
  close(number: number, end: RunClosing): void {
    this.db
      .prepare(
        `UPDATE runs SET state = ?, verdict = ?, started = ?, ended = ?, started_wall = ?, ended_wall = ?, outcome = ?,
           samples_end = ?, marks_end = ?, read_from = ?, read_to = ?, read_lid = ? WHERE number = ?`,
      )
      .run(
        end.state, end.outcome.verdict, end.from, end.to, end.fromWall, end.toWall, canonicalJson(end.outcome),
        end.received.samples, end.received.marks, end.reading?.from ?? null, end.reading?.to ?? null, end.reading?.lid ?? null, number,
      );
  }

  /** s, the latest time that any run begins or ends; 0 without runs. */
  newestTime(): number {
    return this.db.prepare<[], number | null>('SELECT max(max(started, coalesce(ended, started))) FROM runs').pluck().get() ?? 0;
  }

  /** What lists show of a run. */
  summary(number: number): RunSummary | null {
    return this.db.prepare<[number], RunSummary>(`SELECT ${summary} FROM ${source} WHERE runs.number = ?`).get(number) ?? null;
  }

  get(number: number): Run | null {
    const row = this.db
      .prepare<[number], Row>(`SELECT ${summary}, runs.instrument, runs.outcome, runs.samples_end AS samplesEnd, runs.marks_end AS marksEnd,
           runs.read_from AS readFrom, runs.read_to AS readTo, runs.read_lid AS readLid FROM ${source} WHERE runs.number = ?`)
      .get(number);
    if (!row) return null;
    const { samplesEnd, marksEnd, readFrom, readTo, readLid, ...rest } = row;
    return {
      ...rest,
      received: samplesEnd === null || marksEnd === null ? null : { samples: samplesEnd, marks: marksEnd },
      reading: readFrom === null || readTo === null ? null : { from: readFrom, to: readTo, lid: readLid },
      instrument: row.instrument === null ? null : (JSON.parse(row.instrument) as Instrument),
      outcome: row.outcome === null ? null : (JSON.parse(row.outcome) as Outcome),
    };
  }

  /** The newest first: at most `limit`, with numbers below `before`, of one bench or of all. */
  list({ limit = 50, before = Number.MAX_SAFE_INTEGER, bench = null }: { limit?: number; before?: number; bench?: string | null } = {}): RunSummary[] {
    return this.db
      .prepare<[number, string | null, number], RunSummary>(
        `SELECT ${summary} FROM ${source} WHERE runs.number < ? AND runs.bench = coalesce(?, runs.bench) ORDER BY runs.number DESC LIMIT ?`,
      )
      .all(before, bench, limit);
  }

  /** Runs that were never closed, the oldest first. */
  openOnes(): RunSummary[] {
    return this.db.prepare<[], RunSummary>(`SELECT ${summary} FROM ${source} WHERE runs.state = 'open' ORDER BY runs.number`).all();
  }

  /** Runs before the first of this file: those of a damaged file that was set aside. */
  numberBefore(): number {
    return Number(this.db.prepare<[], string>("SELECT value FROM facts WHERE key = 'runs before'").pluck().get() ?? 0);
  }

  private nextNumber(): number {
    return 1 + (this.db.prepare<[], number | null>('SELECT max(number) FROM runs').pluck().get() ?? this.numberBefore());
  }
}
