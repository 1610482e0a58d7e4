import type Database from 'better-sqlite3';
import { canonicalJson } from './canonical-json.js';
import type { Job } from './job.js';

/** A job that somebody keyed in for the next run of a bench. */
export interface WaitingJob {
  readonly job: Job;
  readonly who: string;
  /** ms since 1970. */
  readonly wall: number;
}

/** Jobs that wait for the next run, one a bench. They outlive the program; once the run has begun they are its entry. */
export class WaitingJobs {
  constructor(private readonly db: Database.Database) {}

  get(bench: string): WaitingJob | null {
    const text = this.db.prepare<[string], string>('SELECT value FROM facts WHERE key = ?').pluck().get(keyOf(bench));
    return text === undefined ? null : (JSON.parse(text) as WaitingJob);
  }

  put(bench: string, waiting: WaitingJob): void {
    this.db
      .prepare('INSERT INTO facts (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value')
      .run(keyOf(bench), canonicalJson(waiting));
  }

  clear(bench: string): void {
    this.db.prepare('DELETE FROM facts WHERE key = ?').run(keyOf(bench));
  }
}

const keyOf = (bench: string) => `job waiting for ${bench}`;
