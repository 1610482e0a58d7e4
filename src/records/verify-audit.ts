import type { KeyObject } from 'node:crypto';
import { auditRecordIn, type SealedAudit } from './audit.js';
import { isSignedBy, sealOf, signerOf } from './seal.js';
import type { StoreReader } from './store-reader.js';
import type { Breach } from './verify-ledger.js';

/** What came of checking the entries about changes. */
export interface AuditVerification {
  readonly entries: number;
  readonly signed: number;
  readonly breaches: readonly Breach[];
  /** Of the newest entry; `null` where there is none. */
  readonly lastSeal: string | null;
  /** The seal that was asked for is one of them. */
  readonly known: boolean;
}

/**
 * Checks each entry about a change: its seal, its place in the chain, its signature, its columns, and that the ledger knows
 * the seal that it names. As with the ledger, what was cut off at the end shows only against a seal kept elsewhere.
 */
export function verifyAudit(store: StoreReader, key: KeyObject | null, knownSeal: string | null): AuditVerification {
  const breaches: Breach[] = [];
  const inLedger = store.db.prepare<[string], number>('SELECT 1 FROM ledger WHERE seal = ?').pluck();
  let [previous, expected, signed, known] = [store.audit.sealBefore(), 1, 0, false];
  let lastSeal: string | null = null;
  for (const row of store.audit.all()) {
    const tell = (sentence: string) => breaches.push({ ledger: null, run: 0, sentence: `audit entry ${row.number}: ${sentence}` });
    if (row.number !== expected) tell(`${row.number - expected} entries before it are missing`);
    if (row.previous !== previous) tell('does not follow the entry before it');
    if (sealOf(row.record, row.previous) !== row.seal) tell('the entry or its seal was changed');
    if (row.signature !== null) signed++;
    if (key !== null && !(row.signature !== null && row.signer === signerOf(key) && isSignedBy(Buffer.from(row.seal, 'hex'), row.signature, key))) {
      tell(row.signature === null ? 'is not signed' : 'the signature is not by the given key');
    }
    const difference = differenceOf(row);
    if (difference !== null) tell(difference);
    const named = auditRecordIn(row.record)?.ledger;
    if (named !== undefined && named !== store.ledger.sealBefore() && inLedger.get(named) === undefined) tell('names a seal that the ledger does not have: records were taken away');
    known ||= row.seal === knownSeal;
    previous = lastSeal = row.seal;
    expected = row.number + 1;
  }
  return { entries: expected - 1, signed, breaches, lastSeal, known };
}

function differenceOf({ number, wall, who, subject, record }: SealedAudit): string | null {
  const said = auditRecordIn(record);
  if (said === null) return 'cannot be read';
  const same = said.number === number && said.wall === wall && said.who === who && said.subject === subject;
  return same ? null : 'was changed since it was sealed';
}
