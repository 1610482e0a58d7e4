import type Database from 'better-sqlite3';
import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import { canonicalJson } from './canonical-json.js';
import { firstSeal, sealOf, type Signer } from './seal.js';
import { textLine } from './text-line.js';

/** Characters that the details of an entry may have as JSON. */
const longestDetails = 16_384;

const noteSchema = z.strictObject({
  who: textLine(200).min(1, { error: 'is empty; an entry needs the name of whoever makes it' }),
  /** What it is about, the same each time: `plan two-wire-dn12`, `channel pressure`, `people`. */
  subject: textLine(120).min(1, { error: 'is empty' }),
  /** One line. */
  what: textLine(500).min(1, { error: 'is empty' }),
  why: textLine(500).nullish().transform((why) => (why === undefined || why === '' ? null : why)),
  /** Whatever JSON can say; what it cannot is left out. */
  details: z
    .unknown()
    .default(null)
    .transform((value): unknown => JSON.parse(JSON.stringify(value ?? null)))
    .pipe(z.json()),
});

/** Something that was changed at the bench, for whoever asks later. */
export type AuditNote = z.input<typeof noteSchema>;

/** A change as it was written down. */
export interface AuditEntry extends z.output<typeof noteSchema> {
  /** Counts from 1, without holes. */
  readonly number: number;
  /** ms since 1970. */
  readonly wall: number;
}

/** An entry with its seal. */
export interface SealedAudit {
  readonly number: number;
  readonly wall: number;
  readonly who: string;
  readonly subject: string;
  /** Canonical JSON of all of it. */
  readonly record: string;
  readonly previous: string;
  readonly seal: string;
  readonly signer: string | null;
  readonly signature: string | null;
}

/** Which entries are wanted. */
export interface AuditChoice {
  readonly limit?: number;
  /** Only those with a smaller number. */
  readonly before?: number;
  readonly subject?: string;
}

const sealedRecord = z.object({
  record: z.literal('audit'), format: z.literal(1), number: z.number(), wall: z.number(), who: z.string(), subject: z.string(), what: z.string(),
  why: z.string().nullable(), details: z.json(), ledger: z.string(),
});

/** What a sealed text says; `null` for one that is no entry. */
export function auditRecordIn(text: string): z.output<typeof sealedRecord> | null {
  try {
    return sealedRecord.safeParse(JSON.parse(text)).data ?? null;
  } catch {
    return null;
  }
}

/**
 * Who changed what at the bench: plans, thresholds, calibration, jobs, people. Appended and sealed in a chain of its own,
 * never edited; each entry names the newest seal of the ledger, so that the order of changes and runs is sealed too.
 */
export class Audit {
  /** A store of an earlier version that is only read has none. */
  private readonly there: boolean;

  constructor(
    private readonly db: Database.Database,
    private readonly signer: Signer | null,
  ) {
    this.there = db.prepare("SELECT 1 FROM sqlite_schema WHERE name = 'audit'").get() !== undefined;
  }

  /**
   * @param wall ms since 1970
   * @throws InputError for a note that is not well formed; SqliteError when the disk refuses, and then nothing is written
   */
  append(input: AuditNote, wall: number): AuditEntry {
    const found = noteSchema.safeParse(input);
    if (!found.success) throw new InputError('audit', problemsOf(found.error, input, []));
    if (canonicalJson(found.data.details).length > longestDetails) throw new InputError('audit', [{ place: 'details', text: `should have ${longestDetails} characters or fewer` }]);
    return this.db
      .transaction(() => {
        const last = this.last();
        const entry = { ...found.data, number: (last?.number ?? 0) + 1, wall };
        const ledger = this.db.prepare<[], string>('SELECT seal FROM ledger ORDER BY number DESC LIMIT 1').pluck().get() ?? this.fact('seal before');
        const record = canonicalJson({ record: 'audit', format: 1, ...entry, ledger });
        const previous = last?.seal ?? this.sealBefore();
        const seal = sealOf(record, previous);
        const { number, who, subject } = entry;
        this.db
          .prepare('INSERT INTO audit (number, wall, who, subject, record, previous, seal, signer, signature) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)')
          .run(number, wall, who, subject, record, previous, seal, this.signer?.signer ?? null, this.signer?.signature(seal) ?? null);
        return entry;
      })
      .immediate();
  }

  /** The newest first. */
  list({ limit = 100, before = Number.MAX_SAFE_INTEGER, subject }: AuditChoice = {}): AuditEntry[] {
    if (!this.there) return [];
    const rows =
      subject === undefined
        ? this.db.prepare<[number, number], SealedAudit>('SELECT * FROM audit WHERE number < ? ORDER BY number DESC LIMIT ?').all(before, limit)
        : this.db.prepare<[string, number, number], SealedAudit>('SELECT * FROM audit WHERE subject = ? AND number < ? ORDER BY number DESC LIMIT ?').all(subject, before, limit);
    return rows.flatMap(({ record }) => {
      const said = auditRecordIn(record);
      return said === null ? [] : [{ number: said.number, wall: said.wall, who: said.who, subject: said.subject, what: said.what, why: said.why, details: said.details }];
    });
  }

  /** The newest entry about something; `null` where there is none. */
  newest(subject: string): AuditEntry | null {
    return this.list({ subject, limit: 1 })[0] ?? null;
  }

  /** How many there are. */
  count(): number {
    return this.last()?.number ?? 0;
  }

  /** All in order, sealed as they are. */
  *all(): Generator<SealedAudit> {
    if (!this.there) return;
    const page = this.db.prepare<[number], SealedAudit>('SELECT * FROM audit WHERE number > ? ORDER BY number LIMIT 100');
    for (let last = -1; ; ) {
      const rows = page.all(last);
      yield* rows;
      const end = rows.at(-1);
      if (!end) return;
      last = end.number;
    }
  }

  /** The seal that the first entry follows: the last one of a file set aside, or zeros. */
  sealBefore(): string {
    return this.fact('audit seal before');
  }

  private last(): SealedAudit | null {
    if (!this.there) return null;
    return this.db.prepare<[], SealedAudit>('SELECT * FROM audit ORDER BY number DESC LIMIT 1').get() ?? null;
  }

  private fact(key: string): string {
    return this.db.prepare<[string], string>('SELECT value FROM facts WHERE key = ?').pluck().get(key) ?? firstSeal;
  }
}
