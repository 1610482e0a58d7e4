import type Database from 'better-sqlite3';
import { canonicalJson, sha256 } from './canonical-json.js';

export type VersionKind = 'plan' | 'thresholds' | 'calibration';

/** A plan, thresholds or calibration as it was in force, under the SHA-256 of its canonical JSON. */
export interface Version {
  readonly hash: string;
  readonly kind: VersionKind;
  /** Checked against the hash when read. */
  readonly content: unknown;
  /** What a person wrote, comments and all; `null` where there was no file. */
  readonly source: string | null;
  /** ms since 1970, first time in force here. */
  readonly wall: number;
}

/** Everything ever in force; nothing is changed or deleted. */
export class Versions {
  constructor(private readonly db: Database.Database) {}

  /** Keeps a version, once. The same content gives the same hash. */
  keep(kind: VersionKind, content: unknown, wall: number, source: string | null = null): string {
    const text = canonicalJson(content);
    const hash = sha256(text);
    this.db
      .prepare('INSERT INTO versions (hash, kind, content, source, wall) VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING')
      .run(hash, kind, text, source, wall);
    return hash;
  }

  /** @throws Error when the content no longer has the hash it was kept under. */
  get(hash: string): Version | null {
    const row = this.db
      .prepare<[string], { hash: string; kind: VersionKind; content: string; source: string | null; wall: number }>(
        'SELECT hash, kind, content, source, wall FROM versions WHERE hash = ?',
      )
      .get(hash);
    if (!row) return null;
    if (sha256(row.content) !== row.hash) throw new Error(`${row.kind} ${hash} was changed in the store`);
    return { ...row, content: JSON.parse(row.content) as unknown };
  }

  list(kind: VersionKind): Pick<Version, 'hash' | 'source' | 'wall'>[] {
    return this.db
      .prepare<[string], Pick<Version, 'hash' | 'source' | 'wall'>>('SELECT hash, source, wall FROM versions WHERE kind = ? ORDER BY wall, hash')
      .all(kind);
  }
}
