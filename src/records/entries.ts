import type Database from 'better-sqlite3';
import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import { canonicalJson } from './canonical-json.js';
import { jobSchema } from './job.js';
import type { Ledger } from './ledger.js';
import type { RunSearch } from './run-search.js';
import { visualFindingSchema } from './visual-finding.js';

const text = z.string().max(1000, { error: 'should have 1000 characters or fewer' });
const hash = z.string().regex(/^[0-9a-f]{64}$/, { error: 'should be a content hash of 64 hex digits' });

/** What may be added to a run. The newest entry of a kind holds; earlier ones stay. */
export const entrySchema = z.discriminatedUnion('kind', [
  jobSchema.extend({ kind: z.literal('job') }),
  visualFindingSchema,
  /** A plan given, or thresholds changed, after the run; `outcome` is the run judged with them. */
  z.strictObject({ kind: z.literal('judged-again'), plan: hash, thresholds: hash, outcome: z.json() }),
  /** What an engineer knows about the run, for tuning. */
  z.strictObject({
    kind: z.literal('label'),
    label: text.min(1),
    /** s on the trace's own clock, for a label of one excursion. */
    at: z.number({ error: 'should be a time in s' }).optional(),
  }),
  z.strictObject({ kind: z.literal('certificate'), number: text.min(1), sha256: hash }),
  z.strictObject({ kind: z.literal('note'), text: text.min(1) }),
  /** The samples of the run were given up to keep room, as the bench file says. */
  z.strictObject({ kind: z.literal('trace-removed') }),
]);

export type Entry = z.output<typeof entrySchema>;
export type EntryKind = Entry['kind'];

/** An entry as it was appended. */
export interface AppendedEntry {
  readonly id: number;
  readonly run: number;
  /** ms since 1970. */
  readonly wall: number;
  /** Who says so. */
  readonly who: string;
  readonly why: string | null;
  readonly entry: Entry;
}

interface Row {
  id: number;
  run: number;
  wall: number;
  who: string;
  why: string | null;
  content: string;
}

/** Everything said about runs afterwards: appended and sealed, never edited. */
export class Entries {
  constructor(
    private readonly db: Database.Database,
    private readonly ledger: Ledger,
    private readonly search: RunSearch,
  ) {}

  /**
   * @param wall ms since 1970.
   * @throws InputError when the entry is not well formed, nobody is named or there is no such run.
   */
  append(run: number, input: unknown, who: string, wall: number, why: string | null = null): AppendedEntry {
    const found = entrySchema.safeParse(input);
    if (!found.success) throw new InputError(`run ${run}`, problemsOf(found.error, input, []));
    if (who.trim() === '') throw new InputError(`run ${run}`, [{ place: 'who', text: 'is empty; an entry needs the name of whoever makes it' }]);
    const known = this.db.prepare<[number], number>('SELECT 1 FROM runs WHERE number = ?').pluck().get(run);
    if (known === undefined) throw new InputError(`run ${run}`, [{ place: '', text: 'there is no such run' }]);
    const entry = found.data;
    return this.db
      .transaction(() => {
        const content = canonicalJson(entry);
        const added = this.db
          .prepare('INSERT INTO entries (run, kind, wall, who, why, content) VALUES (?, ?, ?, ?, ?, ?)')
          .run(run, entry.kind, wall, who, why, content);
        const appended = { id: Number(added.lastInsertRowid), run, wall, who, why, entry };
        this.ledger.append(run, appended.id, entryRecord(appended));
        this.search.index(run);
        return appended;
      })
      .immediate();
  }

  of(run: number): AppendedEntry[] {
    return this.db
      .prepare<[number], Row>('SELECT id, run, wall, who, why, content FROM entries WHERE run = ? ORDER BY id')
      .all(run)
      .map(fromRow);
  }

  get(id: number): AppendedEntry | null {
    const row = this.db.prepare<[number], Row>('SELECT id, run, wall, who, why, content FROM entries WHERE id = ?').get(id);
    return row ? fromRow(row) : null;
  }
}

/** What is sealed of an entry. */
export const entryRecord = (appended: AppendedEntry) => ({ record: 'entry', format: 1, ...appended }) as const;

function fromRow({ content, ...row }: Row): AppendedEntry {
  return { ...row, entry: JSON.parse(content) as Entry };
}
