import { mkdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { recordJson } from '../../src/records/export-record.js';
import { parseExported, verifyExported } from '../../src/records/exported-record.js';
import { publicKeyFrom, signerOfFile, writeKeys } from '../../src/records/key-files.js';
import { openStore } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { HandBench } from '../daemon/hand-bench.js';
import { emptyFolder, opened } from './example-store.js';

const software = 'dwellkeeper test';
let bench: HandBench;
let text = '';
/** Of a run whose job was there before it was over. */
let jobFirst = '';
let publicKey = '';

beforeAll(() => {
  bench = new HandBench();
  const keys = writeKeys(join(bench.folder, 'bench.pem'));
  publicKey = publicKeyFrom(keys.publicFile);
  bench.signWith(signerOfFile(keys.privateFile));
  bench.daemon.start();
  bench.ramp(0, 0, 35);
  bench.goodRun();
  bench.line('?');
  bench.goodRun(2);
  bench.ramp(0, 560, 10);
  bench.daemon.records?.addEntry(3, { kind: 'job', order: 'A-3' }, 'J. Doe');
  bench.ramp(560, 0, 2);
  bench.ramp(0, 0, 8);
  bench.daemon.stop();
  const { store } = openStore(join(bench.folder, 'records.sqlite'), { software, signer: signerOfFile(keys.privateFile) });
  store.addEntry(1, { kind: 'job', order: '=1+1', assemblies: ['H-1'], operator: 'J. Doe' }, 'J. Doe');
  store.addEntry(1, { kind: 'note', text: 'a line\nand "quotes"' }, 'J. Doe', 'it was asked for');
  text = [...recordJson(store, 1)].join('');
  jobFirst = [...recordJson(store, 3)].join('');
  store.close();
});
afterAll(() => bench.clear());

const checked = (json: string, options = {}) => verifyExported(parseExported(json, 'run-1.json'), software, { judgeAgain: true, ...options });

describe('a record in a file of its own', () => {
  it('is checked alone: seals, signatures, trace, and the verdict judged again', () => {
    expect(checked(text, { publicKey })).toMatchObject({ intact: true, breaches: [], records: 3, signed: 3, again: { same: 1, remarks: [] } });
  });

  it('whose job was keyed in before the run was over is as whole', () => {
    expect(parseExported(jobFirst, '').ledger.map(({ record: { record: kind } }) => kind)).toEqual(['entry', 'run']);
    expect(checked(jobFirst, { publicKey })).toMatchObject({ intact: true, breaches: [], records: 2, signed: 2, again: { same: 1 } });
    const { ledger, ...rest } = JSON.parse(jobFirst) as { ledger: unknown[] };
    expect(checked(JSON.stringify({ ...rest, ledger: ledger.slice(0, 1) })).breaches.map(({ sentence }) => sentence)).toEqual(['the record is not complete: that of the run itself is missing']);
  });

  it('is plain JSON whose numbers anybody can read', () => {
    const { samples, columns, ledger } = parseExported(text, '');
    expect(columns).toEqual(['time_s', 'pressure_bar', 'flags', 'raw']);
    const record = ledger[0]?.record as { trace: { samples: number }; reading: { from_s: number }; verdict: string };
    expect(samples).toHaveLength(record.trace.samples);
    expect(samples[0]?.[0]).toBe(record.reading.from_s);
    expect(record.verdict).toBe('pass');
    expect(ledger.map(({ record: { record: kind } }) => kind)).toEqual(['run', 'entry', 'entry']);
  });

  it('written by another program, with other blanks, is the same record', () => {
    expect(checked(JSON.stringify(JSON.parse(text), null, 2)).intact).toBe(true);
  });

  // Any single flipped bit is a text that is no record, or one whose breach is named.
  it('with any one byte changed is refused or named', () => {
    const bytes = Buffer.from(text, 'utf8');
    fc.assert(
      fc.property(fc.oneof(fc.nat({ max: bytes.length - 1 }), fc.nat({ max: bytes.indexOf('"columns"') })), fc.integer({ min: 1, max: 127 }), (at, bits) => {
        const changed = Buffer.from(bytes);
        changed[at]! ^= bits;
        // Blanks between values carry nothing.
        fc.pre(!/\s/.test(String.fromCharCode(bytes[at]!)) || /\S/.test(String.fromCharCode(changed[at]!)));
        let exported;
        try {
          exported = parseExported(changed.toString('utf8'), 'run-1.json');
        } catch {
          return;
        }
        // Digits beyond the precision of a double change nothing; the place in the ledger is the store's to check.
        if (withoutPlaces(exported) === withoutPlaces(parseExported(text, ''))) return;
        const { intact } = verifyExported(exported, software, { publicKey });
        if (intact) expect(changed.toString('utf8')).toBe('a change that is named');
      }),
      { numRuns: 1500 },
    );
  });

  it.each([
    ['a sample taken out', (r: Parsed) => r.samples.splice(40, 1), /the trace has \d+ samples, \d+ were sealed/],
    ['a reading made higher', (r: Parsed) => (r.samples[300]![1] = 551), /the trace was changed/],
    ['a flag taken away', (r: Parsed) => (r.samples[300]![2] = 4), /the trace was changed/],
    ['another order', (r: Parsed) => (r.ledger[1]!.record['entry'] = { kind: 'job', order: 'A-1' }), /the record or its seal was changed/],
    ['an entry of another run', (r: Parsed) => (r.ledger[1]!.run = 2), /is about run 1, not about run 1|not about run/],
    ['the entries only', (r: Parsed) => r.ledger.shift(), /is not complete/],
  ])('names %s', (_what, change, sentence) => {
    const record = JSON.parse(text) as Parsed;
    change(record);
    expect(checked(JSON.stringify(record)).breaches.map((breach) => breach.sentence).join('\n')).toMatch(sentence);
  });

  it('needs the seal and the key that are asked for', () => {
    const seal = parseExported(text, '').ledger[2]?.seal ?? '';
    expect(checked(text, { knownSeal: seal }).intact).toBe(true);
    expect(checked(text, { knownSeal: 'f'.repeat(64) }).breaches[0]?.sentence).toMatch(/does not contain the seal/);
    const other = publicKeyFrom(writeKeys(join(emptyFolder(), 'other.pem')).publicFile);
    expect(checked(text, { publicKey: other }).breaches).toHaveLength(3);
  });
});

const withoutPlaces = ({ ledger, ...rest }: ReturnType<typeof parseExported>): string => JSON.stringify({ ...rest, ledger: ledger.map((row) => ({ ...row, number: 0 })) });

interface Parsed {
  readonly ledger: { run: number; record: Record<string, unknown> }[];
  readonly samples: [number, number | null, number, number | null][];
}

describe('a run whose trace was given up', () => {
  it('is as it was sealed but for the trace, in the store and alone; without an entry that says so it is a breach', () => {
    const other = new HandBench();
    try {
      other.daemon.start();
      other.ramp(0, 0, 35);
      other.goodRun();
      other.daemon.stop();
      const { store } = openStore(join(other.folder, 'records.sqlite'), { software });
      try {
        const stripped = { ...(JSON.parse([...recordJson(store, 1)].join('')) as Parsed), samples: [] };
        expect(checked(JSON.stringify(stripped)).breaches[0]?.sentence).toMatch(/the trace has 0 samples/);
        store.addEntry(1, { kind: 'trace-removed' }, 'retention', 'older than a year');
        store.db.exec('DELETE FROM contents; DELETE FROM summaries; DELETE FROM blocks');
        expect(verifyLedger(store, { judgeAgain: true })).toMatchObject({ intact: true, tracesRemoved: 1, again: { same: 0, remarks: [] } });
        const alone = [...recordJson(store, 1)].join('');
        expect(checked(alone)).toMatchObject({ intact: true, tracesRemoved: 1, again: { same: 0 } });
        store.db.exec("DROP TRIGGER runs_final; UPDATE runs SET verdict = 'fail' WHERE number = 1");
        expect(verifyLedger(store).breaches[0]?.sentence).toMatch(/run 1: verdict changed/);
      } finally {
        store.close();
      }
    } finally {
      other.clear();
    }
  });
});

describe('key files', () => {
  it('keep the private key to its owner and are never written over', () => {
    const folder = emptyFolder();
    const { privateFile, publicFile, signer } = writeKeys(join(folder, 'bench.pem'));
    expect(publicFile).toBe(join(folder, 'bench.public.pem'));
    expect(statSync(privateFile).mode & 0o777).toBe(0o600);
    expect(signerOfFile(privateFile).signer).toBe(signer);
    const before = readFileSync(privateFile, 'utf8');
    expect(() => writeKeys(privateFile)).toThrow(/bench\.pem: is there already, and a key is never written over/);
    expect(readFileSync(privateFile, 'utf8')).toBe(before);
  });

  it('leave nothing behind where the public key cannot be written', () => {
    const folder = emptyFolder();
    mkdirSync(join(folder, 'bench.public.pem'));
    expect(() => writeKeys(join(folder, 'bench.pem'))).toThrow(/bench\.public\.pem/);
    expect(statSync(join(folder, 'bench.pem'), { throwIfNoEntry: false })).toBeUndefined();
  });

  it('are refused with one sentence where they are wrong', () => {
    const folder = emptyFolder();
    const { privateFile, publicFile } = writeKeys(join(folder, 'bench.pem'));
    const loose = join(folder, 'loose.pem');
    writeFileSync(loose, readFileSync(privateFile), { mode: 0o644 });
    writeFileSync(join(folder, 'rubbish.pem'), 'no key', { mode: 0o600 });
    expect(() => signerOfFile(loose, 'bench.yaml', 'signingKey')).toThrow(/bench\.yaml: signingKey: .*loose\.pem may be read by others than its owner/);
    expect(() => signerOfFile(join(folder, 'rubbish.pem'))).toThrow(/is not an Ed25519 private key/);
    expect(() => signerOfFile(join(folder, 'none.pem'))).toThrow(/there is no such file; 'dwellkeeper keygen' makes a key/);
    expect(() => publicKeyFrom(privateFile)).toThrow(/is a private key; give the public one/);
    expect(() => publicKeyFrom(join(folder, 'rubbish.pem'))).toThrow(/is not a public key/);
    expect(publicKeyFrom(publicFile)).toContain('PUBLIC KEY');
  });
});

describe('what is no record', () => {
  it.each([
    ['{', /is not JSON/],
    ['[]', /is no record that 'export' wrote/],
    ['{"dwellkeeper":"record","format":2}', /format: 2 should be one of 1/],
    ['{"dwellkeeper":"record","format":1,"ledger":[],"columns":["time_s","pressure_bar","flags","raw"],"samples":[]}', /ledger: should hold the sealed record/],
  ])('is refused: %s', (json, sentence) => expect(() => parseExported(json, 'x.json')).toThrow(sentence));

  it('a run that is open or not there cannot be exported', () => {
    const store = opened(join(emptyFolder(), 'bench.db'));
    expect(() => [...recordJson(store, 1)]).toThrow(/run 1: there is no such run/);
  });
});
