import type Database from 'better-sqlite3';
import { canonicalJson } from './canonical-json.js';

/** The plan that somebody chose for the runs of a bench. */
export interface ChosenPlan {
  /** Name of its file in the library, without the ending. */
  readonly key: string;
  readonly who: string;
  /** ms since 1970. */
  readonly wall: number;
  /** The plan that the bench file named then: once it names another, that is the newer word. */
  readonly inBenchFile: string | null;
}

/** Plans chosen at the page, one a bench; they outlive the program. */
export class ChosenPlans {
  constructor(private readonly db: Database.Database) {}

  get(bench: string): ChosenPlan | null {
    const text = this.db.prepare<[string], string>('SELECT value FROM facts WHERE key = ?').pluck().get(keyOf(bench));
    return text === undefined ? null : (JSON.parse(text) as ChosenPlan);
  }

  put(bench: string, chosen: ChosenPlan): void {
    this.db
      .prepare('INSERT INTO facts (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value')
      .run(keyOf(bench), canonicalJson(chosen));
  }
}

const keyOf = (bench: string) => `plan chosen for ${bench}`;

/** When a plan was last used. */
export interface PlanUse {
  /** SHA-256 of its content. */
  readonly sha256: string;
  /** Its name. */
  readonly name: string;
  /** ms since 1970, start of the newest run by it. */
  readonly wall: number;
}

/** Newest runs that are looked through. */
const lookedThrough = 1000;

/** The plans of the newest runs, whatever the bench. */
export const plansUsed = (db: Database.Database): readonly PlanUse[] =>
  db
    .prepare<[number], PlanUse>(
      `SELECT plan AS sha256, coalesce(json_extract(content, '$.plan'), '') AS name, max(started_wall) AS wall
       FROM (SELECT plan, started_wall FROM runs ORDER BY started_wall DESC LIMIT ?) JOIN versions ON hash = plan GROUP BY plan`,
    )
    .all(lookedThrough);
