import type Database from 'better-sqlite3';
import { z } from 'zod';
import { laneTableSchema } from './lanes.js';

const count = z.int().nonnegative();

const cursorSchema = z.object({
  /** What answered; decides the resolution of stamps, so it must not change between two sendings of the same points. */
  engine: z.enum(['influxdb', 'victoria-metrics']).nullable(),
  /** Samples forwarded of each channel, by its id: the position of the next one. */
  samples: z.record(z.string(), count),
  /** Id of the last event and mark, and number of the last row of the ledger, that were forwarded. */
  events: count,
  marks: count,
  ledger: count,
  lanes: laneTableSchema,
});

/** How far the store has been forwarded to one database. */
export type Cursor = z.output<typeof cursorSchema>;

export const freshCursor = (): Cursor => ({ engine: null, samples: {}, events: 0, marks: 0, ledger: 0, lanes: {} });

/** Keeps the cursor of one database in the store it counts in. */
export class CursorKeeper {
  private readonly key: string;
  private readonly write;

  /** @param target names the database: its address and name */
  constructor(
    private readonly db: Database.Database,
    target: string,
  ) {
    this.key = `forwarded to ${target}`;
    this.write = db.prepare<[string, string]>('INSERT INTO facts (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value');
  }

  /** `null` when nothing was forwarded yet, or the cursor cannot be read: then all is sent again, which changes nothing. */
  load(): Cursor | null {
    const text = this.db.prepare<[string], string>('SELECT value FROM facts WHERE key = ?').pluck().get(this.key);
    if (text === undefined) return null;
    try {
      return cursorSchema.parse(JSON.parse(text));
    } catch {
      return null;
    }
  }

  /** @throws SQLite's error when the disk refuses; the cursor before it is still there. */
  save(cursor: Cursor): void {
    this.write.run(this.key, JSON.stringify(cursor));
  }
}
