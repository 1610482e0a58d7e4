import type Database from 'better-sqlite3';
import { canonicalJson } from './canonical-json.js';
import { firstSeal, sealOf, type Signer } from './seal.js';

/** One sealed record. */
export interface LedgerRow {
  readonly number: number;
  readonly run: number;
  /** The appended entry it seals; `null` for the record of a run itself. */
  readonly entry: number | null;
  /** Canonical JSON. */
  readonly record: string;
  readonly previous: string;
  readonly seal: string;
  readonly signer: string | null;
  readonly signature: string | null;
}

/** The chain of sealed records; each seal covers the one before it. */
export class Ledger {
  constructor(
    private readonly db: Database.Database,
    private readonly signer: Signer | null,
  ) {}

  /** Seals a record. Call within the transaction that writes what it is about. */
  append(run: number, entry: number | null, record: unknown): LedgerRow {
    const text = canonicalJson(record);
    const last = this.last();
    const previous = last?.seal ?? this.sealBefore();
    const seal = sealOf(text, previous);
    const row: LedgerRow = {
      number: (last?.number ?? 0) + 1,
      run,
      entry,
      record: text,
      previous,
      seal,
      signer: this.signer?.signer ?? null,
      signature: this.signer?.signature(seal) ?? null,
    };
    this.db
      .prepare(
        'INSERT INTO ledger (number, run, entry, record, previous, seal, signer, signature) VALUES (@number, @run, @entry, @record, @previous, @seal, @signer, @signature)',
      )
      .run(row);
    return row;
  }

  /** The newest record; its seal, kept elsewhere, proves later that none was taken off the end. */
  last(): LedgerRow | null {
    return this.db.prepare<[], LedgerRow>('SELECT * FROM ledger ORDER BY number DESC LIMIT 1').get() ?? null;
  }

  /** All records in order, read a few at a time so that others may be read in between. */
  *all(): Generator<LedgerRow> {
    const page = this.db.prepare<[number], LedgerRow>('SELECT * FROM ledger WHERE number > ? ORDER BY number LIMIT 100');
    for (let last = -1; ; ) {
      const rows = page.all(last);
      yield* rows;
      const end = rows.at(-1);
      if (!end) return;
      last = end.number;
    }
  }

  /** The sealed records of a run: its own, then its entries. */
  of(run: number): LedgerRow[] {
    return this.db.prepare<[number], LedgerRow>('SELECT * FROM ledger WHERE run = ? ORDER BY number').all(run);
  }

  /** The seal that the first record follows: the last one of a file set aside, or zeros. */
  sealBefore(): string {
    return this.db.prepare<[], string>("SELECT value FROM facts WHERE key = 'seal before'").pluck().get() ?? firstSeal;
  }
}
