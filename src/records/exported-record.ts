import { createPublicKey } from 'node:crypto';
import { z } from 'zod';
import type { Outcome } from '../core/outcome.js';
import { InputError, inputError, problemsOf } from '../core/problems.js';
import type { Instrument, Mark } from '../core/trace.js';
import type { Samples } from './block-codec.js';
import { canonicalJson, sha256 } from './canonical-json.js';
import { isSignedBy, sealOf, signerOf } from './seal.js';
import { tellAgain } from './tell-again.js';
import { TraceDigest } from './trace-digest.js';
import { clip } from './trace-reader.js';
import type { Breach, Verification, VerifyOptions } from './verify-ledger.js';

const hash = z.string().regex(/^[0-9a-f]{64}$/, { error: 'should be 64 hex digits' });
const version = z.object({ sha256: hash, content: z.json() });
const number = z.number().int().nonnegative();

/** Columns of `samples`, in this order. */
export const recordColumns = ['time_s', 'pressure_bar', 'flags', 'raw'] as const;

const ledgerRow = z.strictObject({
  number,
  run: number,
  entry: number.nullable(),
  record: z.record(z.string(), z.json()),
  previous: hash,
  seal: hash,
  signer: z.string().nullable(),
  signature: z.string().nullable(),
});

/** The record of one run in a file of its own: its rows of the ledger and the samples that they seal. */
export const exportedSchema = z.strictObject({
  dwellkeeper: z.literal('record', { error: "should be 'record'" }),
  format: z.literal(1, { error: 'should be 1, the only format that this version knows' }),
  ledger: z.array(ledgerRow).min(1, { error: 'should hold the sealed record of the run' }),
  columns: z.tuple([z.literal('time_s'), z.literal('pressure_bar'), z.literal('flags'), z.literal('raw')]),
  samples: z.array(z.tuple([z.number(), z.number().nullable(), z.number().int().min(0).max(255), z.number().nullable()])),
});

type Exported = z.output<typeof exportedSchema>;

/** Of a sealed record of a run, what is needed to check it alone. */
const recordSchema = z.object({
  record: z.literal('run'),
  number,
  software: z.string(),
  from_s: z.number(),
  reading: z.object({ from_s: z.number(), to_s: z.number(), lid: z.enum(['open', 'closed']).nullable() }).nullable(),
  plan: version.nullable(),
  thresholds: version,
  instrument: z.json(),
  outcome: z.json(),
  marks: z.array(z.json()),
  trace: z.object({ samples: number, sha256: hash }),
});

/** @throws InputError for a text that is no exported record */
export function parseExported(text: string, source: string): Exported {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (cause) {
    throw inputError(source, '', `is not JSON (${cause instanceof Error ? cause.message : String(cause)}); it should be a record that 'export' wrote, or a store`, cause);
  }
  if (typeof value !== 'object' || value === null || !('dwellkeeper' in value)) throw inputError(source, '', "is no record that 'export' wrote");
  const found = exportedSchema.safeParse(value);
  if (!found.success) throw new InputError(source, problemsOf(found.error, value, Object.keys(exportedSchema.shape)).slice(0, 5));
  return found.data;
}

/**
 * Checks an exported record by itself: seals, signatures, hashes of plan and thresholds, digest of the trace, and the
 * judgement. That nothing was left out of the ledger around it only the store can show.
 */
export function verifyExported(exported: Exported, software: string, options: VerifyOptions = {}): Verification {
  const breaches: Breach[] = [];
  const key = options.publicKey === undefined ? null : createPublicKey(options.publicKey);
  let [signed, known, lastSeal] = [0, options.knownSeal === undefined, ''];
  // What was said of the run while it went on, its job above all, was sealed before the run itself.
  const own = exported.ledger.find(({ entry }) => entry === null);
  exported.ledger.forEach((row, i) => {
    const tell = (sentence: string) => breaches.push({ ledger: row.number, run: row.run, sentence });
    const before = exported.ledger[i - 1];
    if (before && row.number <= before.number) tell('the records are not in their order');
    if (before && row.number === before.number + 1 && row.previous !== before.seal) tell('does not follow the record before it');
    if (sealOf(canonicalJson(row.record), row.previous) !== row.seal) tell('the record or its seal was changed');
    if (row.signature !== null) signed++;
    if (key && !(row.signature !== null && row.signer === signerOf(key) && isSignedBy(Buffer.from(row.seal, 'hex'), row.signature, key))) {
      tell(row.signature === null ? 'is not signed' : 'the signature is not by the given key');
    }
    const misplaced = placeOf(row, own ?? exported.ledger[0]);
    if (misplaced !== null) tell(misplaced);
    known ||= row.seal === options.knownSeal;
    lastSeal = row.seal;
  });
  const again = { same: 0, remarks: [] as string[] };
  if (own) {
    const sentence = checkRun(exported, own.record, software, options.judgeAgain === true, again);
    if (sentence !== null) breaches.push({ ledger: own.number, run: own.run, sentence });
  }
  if (own === undefined) breaches.push({ ledger: null, run: exported.ledger[0]?.run ?? 0, sentence: 'the record is not complete: that of the run itself is missing' });
  if (!known && options.sealMayBeElsewhere !== true) breaches.push({ ledger: null, run: own?.run ?? 0, sentence: `the record does not contain the seal ${options.knownSeal}` });
  return { intact: breaches.length === 0, breaches, records: exported.ledger.length, signed, lastSeal, audit: { entries: 0, signed: 0, lastSeal: null }, tracesRemoved: exported.samples.length === 0 && removedIn(exported) ? 1 : 0, holdsSeal: options.knownSeal === undefined ? null : known, again: options.judgeAgain === true ? again : null };
}

/** What is wrong with where a record says that it belongs. */
function placeOf(row: Exported['ledger'][number], own: Exported['ledger'][number] | undefined): string | null {
  const about = row.entry === null ? row.record['number'] : row.record['run'];
  if (row.run !== own?.run || about !== row.run) return `is about run ${JSON.stringify(about)}, not about run ${own?.run}`;
  if (row.entry === null) return row === own ? null : 'is a second record of the same run';
  return row.record['id'] === row.entry ? null : `is entry ${JSON.stringify(row.record['id'])}, not entry ${row.entry}`;
}

function checkRun(exported: Exported, own: unknown, software: string, judge: boolean, again: { same: number; remarks: string[] }): string | null {
  const found = recordSchema.safeParse(own);
  if (!found.success) return `the record of the run is not complete (${problemsOf(found.error, own, [])[0]?.place ?? ''})`;
  const record = found.data;
  for (const [name, kept] of [['plan', record.plan], ['thresholds', record.thresholds]] as const) {
    if (kept !== null && sha256(canonicalJson(kept.content)) !== kept.sha256) return `run ${record.number}: the ${name} does not have its hash`;
  }
  // An exported record may outlive its trace only where the run itself says that it was given up.
  if (exported.samples.length === 0 && record.trace.samples > 0 && removedIn(exported)) return null;
  const samples = columnsOf(exported);
  const digest = new TraceDigest();
  digest.add(samples);
  if (digest.count !== record.trace.samples) return `run ${record.number}: the trace has ${digest.count} samples, ${record.trace.samples} were sealed`;
  if (digest.done() !== record.trace.sha256) return `run ${record.number}: the trace was changed since it was sealed`;
  if (!judge) return null;
  const { reading } = record;
  const said = tellAgain(
    {
      number: record.number, software: record.software, from: record.from_s, plan: record.plan?.content ?? null, thresholds: record.thresholds.content,
      reading: reading && { from: reading.from_s, to: reading.to_s, lid: reading.lid },
      // What was sealed came from this program; what does not fit makes the judging fail, which is told.
      instrument: record.instrument as Instrument | null, outcome: record.outcome as unknown as Outcome,
    },
    software,
    (stretch) => ({ marks: record.marks as unknown as Mark[], pieces: [clip(samples, stretch.from, stretch.to)] }),
  );
  if (said.is === 'same') again.same++;
  else if (said.is === 'remark') again.remarks.push(said.sentence);
  else return said.sentence;
  return null;
}

const removedIn = ({ ledger }: Exported): boolean => ledger.some(({ entry, record: { entry: said } }) => entry !== null && typeof said === 'object' && said !== null && 'kind' in said && said['kind'] === 'trace-removed');

function columnsOf({ samples }: Exported): Samples {
  const column = (k: 0 | 1 | 2 | 3) => Float64Array.from(samples, (row) => row[k] ?? NaN);
  return { time: column(0), pressure: column(1), flags: Uint8Array.from(samples, (row) => row[2]), raw: column(3) };
}
