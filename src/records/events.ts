import type Database from 'better-sqlite3';
import type { FoundEvent } from '../core/outcome.js';
import { canonicalJson } from './canonical-json.js';

/** An event as it was stored. */
export interface StoredEvent {
  readonly id: number;
  readonly channel: number;
  /** The run it belongs to; `null` outside one. */
  readonly run: number | null;
  readonly event: FoundEvent;
}

interface Row {
  id: number;
  channel: number;
  run: number | null;
  event: string;
}

/** Events found while recording: appended, never edited. */
export class Events {
  private readonly insert;

  constructor(private readonly db: Database.Database) {
    this.insert = db.prepare<[number, number | null, string, number, string]>(
      'INSERT INTO events (channel, run, kind, at, event) VALUES (?, ?, ?, ?, ?)',
    );
  }

  append(channel: number, run: number | null, events: readonly FoundEvent[]): void {
    this.db
      .transaction(() => {
        for (const event of events) this.insert.run(channel, run, event.kind, event.at, canonicalJson(event));
      })
      .immediate();
  }

  of(run: number): StoredEvent[] {
    return this.db
      .prepare<[number], Row>('SELECT id, channel, run, event FROM events WHERE run = ? ORDER BY at, id')
      .all(run)
      .map(fromRow);
  }

  /** Events from `from` to `to` (s, both included), by time; at most `limit`, the earliest first. */
  within(channel: number, from: number, to: number, limit = 10_000): StoredEvent[] {
    return this.db
      .prepare<[number, number, number, number], Row>(
        'SELECT id, channel, run, event FROM events WHERE channel = ? AND at BETWEEN ? AND ? ORDER BY at, id LIMIT ?',
      )
      .all(channel, from, to, limit)
      .map(fromRow);
  }
}

const fromRow = ({ event, ...row }: Row): StoredEvent => ({ ...row, event: JSON.parse(event) as FoundEvent });
