import { createPublicKey } from 'node:crypto';
import { z } from 'zod';
import { DamagedBlock } from './block-codec.js';
import { canonicalJson } from './canonical-json.js';
import { entryRecord } from './entries.js';
import type { LedgerRow } from './ledger.js';
import { extentOf, runRecord, traceSeal, type TraceSeal } from './run-record.js';
import { isSignedBy, sealOf, signerOf } from './seal.js';
import { tellAgain, type RunAgain } from './tell-again.js';
import type { StoreReader } from './store-reader.js';
import { verifyAudit } from './verify-audit.js';

/** Something in the store that is not as it was sealed. */
export interface Breach {
  /** Number in the ledger; `null` for a record that has no place in it. */
  readonly ledger: number | null;
  readonly run: number;
  readonly sentence: string;
}

export interface Verification {
  /** True when every record, entry and trace is as it was sealed. */
  readonly intact: boolean;
  /** In the order of the ledger; the first is where to look first. */
  readonly breaches: readonly Breach[];
  readonly records: number;
  readonly signed: number;
  /** The newest seal; kept outside, it proves later that nothing was taken off the end. */
  readonly lastSeal: string;
  /** Entries about changes at the bench, all checked as well. */
  readonly audit: { readonly entries: number; readonly signed: number; readonly lastSeal: string | null };
  /** Runs whose traces were given up to keep room, as later entries say: of those the rest is checked. */
  readonly tracesRemoved: number;
  /** Whether the seal known from elsewhere is in it; `null` where none was asked for. */
  readonly holdsSeal: boolean | null;
  /** What came of judging the runs again; `null` where that was not wanted. */
  readonly again: JudgedAgain | null;
}

export interface JudgedAgain {
  /** Runs that came out the same, byte for byte. */
  readonly same: number;
  /** Runs that could not be judged again, or came out otherwise with another version of the program; a sentence each. */
  readonly remarks: readonly string[];
}

export interface VerifyOptions {
  /** PEM text of the public key that every seal must be signed with. */
  readonly publicKey?: string;
  /** A seal known from elsewhere (a certificate, a print): it must still be in the ledger. */
  readonly knownSeal?: string;
  /** It may be in another file of those that are checked together: that it is not here is then no breach. */
  readonly sealMayBeElsewhere?: boolean;
  /** Judge each run again from its stored trace. */
  readonly judgeAgain?: boolean;
  /** Called after each record: for progress on a long ledger. */
  readonly progress?: (record: number) => void;
}

/**
 * Checks every sealed record against the tables and traces it was made from, and the chain of seals. Writes nothing.
 * The chain alone cannot show that the newest records were cut off: give `knownSeal` for that.
 */
export function verifyLedger(store: StoreReader, options: VerifyOptions = {}): Verification {
  const breaches: Breach[] = [];
  const key = options.publicKey === undefined ? null : createPublicKey(options.publicKey);
  let previous = store.ledger.sealBefore();
  let [expected, signed] = [1, 0];
  let known = options.knownSeal === undefined;
  let [same, tracesRemoved] = [0, 0];
  const remarks: string[] = [];
  for (const row of store.ledger.all()) {
    const tell = (sentence: string) => breaches.push({ ledger: row.number, run: row.run, sentence });
    if (row.number !== expected) tell(`${row.number - expected} records before it are missing`);
    if (row.previous !== previous) tell('does not follow the record before it');
    if (sealOf(row.record, row.previous) !== row.seal) tell('the record or its seal was changed');
    if (row.signature !== null) signed++;
    if (key && !(row.signature !== null && row.signer === signerOf(key) && isSignedBy(Buffer.from(row.seal, 'hex'), row.signature, key))) {
      tell(row.signature === null ? 'is not signed' : 'the signature is not by the given key');
    }
    const difference = row.entry === null ? differenceOfRun(store, row) : differenceOfEntry(store, row, row.entry);
    const removed = row.entry === null && isRemoved(store, row.run);
    if (removed) tracesRemoved++;
    if (difference !== null) tell(difference);
    else if (options.judgeAgain === true && row.entry === null && !removed) {
      const again = runAgain(store, row.run);
      if (again.is === 'same') same++;
      else if (again.is === 'different') tell(again.sentence);
      else remarks.push(again.sentence);
    }
    known ||= row.seal === options.knownSeal;
    previous = row.seal;
    expected = row.number + 1;
    options.progress?.(row.number);
  }
  breaches.push(...missing(store));
  const { breaches: changed, known: knownThere, ...audit } = verifyAudit(store, key, options.knownSeal ?? null);
  breaches.push(...changed);
  if (!known && !knownThere && options.sealMayBeElsewhere !== true) breaches.push({ ledger: null, run: 0, sentence: `the ledger does not contain the seal ${options.knownSeal}` });
  return { intact: breaches.length === 0, breaches, records: expected - 1, signed, lastSeal: previous, audit, tracesRemoved, holdsSeal: options.knownSeal === undefined ? null : known || knownThere, again: options.judgeAgain === true ? { same, remarks } : null };
}

/** What differs between a sealed run and the tables; `null` when nothing does. */
function differenceOfRun(store: StoreReader, row: LedgerRow): string | null {
  try {
    const run = store.getRun(row.run);
    if (!run) return `run ${row.run} is missing`;
    if (!run.received) return `run ${row.run} is sealed and yet open`;
    const extent = extentOf(run);
    const removed = isRemoved(store, row.run);
    const trace = removed ? sealedTrace(row.record) : traceSeal(store.traces, run.channel, extent.from, extent.to, run.received);
    const now = runRecord(run, store, trace);
    if (canonicalJson(now) === row.record) return removed ? null : damagedSummary(store, run.channel, extent.from, extent.to);
    const sealed = parsed(row.record);
    const parts = Object.keys(now).filter((part) => canonicalJson(sealed[part]) !== canonicalJson((now as Record<string, unknown>)[part]));
    return parts.length === 0 ? `run ${row.run}: the record is not in its sealed form` : `run ${row.run}: ${parts.join(', ')} changed since it was sealed`;
  } catch (error) {
    if (error instanceof DamagedBlock) return `run ${row.run}: trace damaged, ${error.message}`;
    return `run ${row.run}: cannot be read (${error instanceof Error ? error.message : String(error)})`;
  }
}

/** A run that is as it was sealed, judged again from its stored trace. */
function runAgain(store: StoreReader, number: number): RunAgain {
  const run = store.getRun(number);
  if (!run?.received || run.outcome === null) return { is: 'remark', sentence: `run ${number} is not over` };
  const { received, outcome } = run;
  const content = (hash: string | null) => (hash === null ? null : (store.versions.get(hash)?.content ?? null));
  return tellAgain(
    { number, software: run.software, outcome, from: run.from, reading: run.reading, instrument: run.instrument, plan: content(run.plan), thresholds: content(run.thresholds) },
    store.software,
    ({ from, to }) => ({ marks: store.traces.marks(run.channel, from, to, received), pieces: store.traces.inTurn(run.channel, from, to, received) }),
  );
}

function damagedSummary(store: StoreReader, channel: number, from: number, to: number): string | null {
  return store.traces.summariesAreTrue(channel, from, to) ? null : 'the overview of its trace does not agree with the trace';
}

function differenceOfEntry(store: StoreReader, row: LedgerRow, id: number): string | null {
  try {
    const entry = store.entry(id);
    if (!entry) return `entry ${id} of run ${row.run} is missing`;
    return canonicalJson(entryRecord(entry)) === row.record ? null : `entry ${id} of run ${row.run} changed since it was sealed`;
  } catch (error) {
    return `entry ${id} of run ${row.run} cannot be read (${error instanceof Error ? error.message : String(error)})`;
  }
}

/** Runs that are over and entries without a sealed record, and holes in the numbers of runs. */
function missing(store: StoreReader): Breach[] {
  const unsealed = store.db
    .prepare<[], { run: number; entry: number | null }>(
      `SELECT number AS run, NULL AS entry FROM runs
         WHERE state <> 'open' AND number NOT IN (SELECT run FROM ledger WHERE entry IS NULL)
       UNION ALL SELECT run, id FROM entries WHERE id NOT IN (SELECT entry FROM ledger WHERE entry IS NOT NULL)`,
    )
    .all()
    .map(({ run, entry }): Breach => ({ ledger: null, run, sentence: entry === null ? `run ${run} has no sealed record` : `entry ${entry} of run ${run} was never sealed` }));
  let next = store.runs.numberBefore() + 1;
  const holes: Breach[] = [];
  for (const number of store.db.prepare<[], number>('SELECT number FROM runs ORDER BY number').pluck().iterate()) {
    for (; next < number; next++) holes.push({ ledger: null, run: next, sentence: `run ${next} is missing` });
    next = number + 1;
  }
  return [...holes, ...unsealed];
}

/** By the content of its entries, which is sealed; one that cannot be read is named by itself. */
function isRemoved(store: StoreReader, run: number): boolean {
  try {
    return store.traceRemoved(run);
  } catch {
    return false;
  }
}

/** What a record says of a trace that is no longer there. */
function sealedTrace(record: string): TraceSeal {
  return traceShape.parse(parsed(record)['trace']);
}

const count = z.number().int().nonnegative();
const traceShape = z.object({ samples: count, sha256: z.string(), received: z.object({ samples: count, marks: count }) });

function parsed(record: string): Record<string, unknown> {
  try {
    const value: unknown = JSON.parse(record);
    return typeof value === 'object' && value !== null ? (value as Record<string, unknown>) : {};
  } catch {
    return {};
  }
}
