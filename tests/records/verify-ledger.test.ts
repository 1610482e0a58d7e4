import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { keygen, signerFrom } from '../../src/records/seal.js';
import type { Store } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { emptyFolder, morning, record, storeWithRuns } from './example-store.js';
import { tamper } from './tamper.js';

const threeRuns = (options = {}) => storeWithRuns(join(emptyFolder(), 'bench.db'), 3, options);

const named = (store: Store): { ledger: number | null; run: number; sentence: string } => {
  const { intact, breaches } = verifyLedger(store);
  expect(intact).toBe(false);
  return breaches[0] ?? expect.fail('no breach named');
};

describe('the ledger', () => {
  it('is intact as recorded, before and after blocks were merged', () => {
    const { store, channel } = threeRuns();
    store.beginSegment(channel, { time: 90, wall: morning });
    const before = verifyLedger(store);
    expect(before).toMatchObject({ intact: true, breaches: [], records: 6, signed: 0, lastSeal: store.ledger.last()?.seal });
    const blocks = () => store.db.prepare<[], number>('SELECT count(*) FROM blocks').pluck().get() ?? 0;
    const short = blocks();
    store.compact();
    expect(blocks()).toBeLessThan(short);
    expect(verifyLedger(store)).toEqual(before);
  });

  it('does not mind samples and runs that follow', () => {
    const { store, channel } = threeRuns();
    record(store, channel, 200, 500);
    expect(verifyLedger(store).intact).toBe(true);
  });

  // FC-50: failed runs disappear, results get edited.
  it.each([
    ['a measured value in the outcome', `UPDATE runs SET outcome = replace(outcome, '548.2', '551.2') WHERE number = 2`, 3, 2, /run 2: outcome changed/],
    ['a verdict', `UPDATE runs SET verdict = 'pass' WHERE number = 2`, 3, 2, /run 2: verdict changed/],
    ['the start of a run', `UPDATE runs SET started = started + 1 WHERE number = 2`, 3, 2, /run 2: .*from_s/],
    ['the date of a run', `UPDATE runs SET started_wall = started_wall - 86400000 WHERE number = 2`, 3, 2, /run 2: from changed/],
    ['the transducer of a run', `UPDATE runs SET instrument = replace(instrument, 'PT-7', 'PT-8') WHERE number = 2`, 3, 2, /run 2: instrument/],
    ['a deleted run', 'DELETE FROM runs WHERE number = 2', 3, 2, /run 2 is missing/],
    ['an edited entry', `UPDATE entries SET content = replace(content, 'A-101', 'A-999') WHERE run = 2`, 4, 2, /entry 2 of run 2 changed/],
    ['who made an entry', `UPDATE entries SET who = 'somebody' WHERE run = 2`, 4, 2, /entry 2 of run 2 changed/],
    ['a deleted entry', 'DELETE FROM entries WHERE run = 2', 4, 2, /entry 2 of run 2 is missing/],
    ['a deleted sealed record', 'DELETE FROM ledger WHERE number = 3', 4, 2, /1 records before it are missing/],
    ['an edited sealed record', `UPDATE ledger SET record = replace(record, '548.2', '551.2') WHERE number = 3`, 3, 2, /record or its seal was changed/],
    ['an edited plan', `UPDATE versions SET content = replace(content, '550', '350') WHERE kind = 'plan'`, 1, 1, /plan .* was changed in the store/],
    ['a shifted segment', 'UPDATE segments SET wall = wall + 1 WHERE id = 2', 3, 2, /run 2: .*clock/],
    ['a mark that was added', `INSERT INTO marks (id, channel, time, kind) VALUES (0, 1, 21.5, 'lid-open')`, 3, 2, /run 2: marks changed/],
    ['deleted samples', 'DELETE FROM contents WHERE block = (SELECT id FROM blocks WHERE earliest = 21)', 3, 2, /run 2: trace damaged/],
    ['a deleted block', 'DELETE FROM blocks WHERE earliest = 21', 3, 2, /run 2: trace changed/],
    ['a run moved to the end of the list', 'UPDATE runs SET number = 9 WHERE number = 2', 3, 2, /run 2 is missing/],
  ])('names %s', (_what, sql, ledger, run, sentence) => {
    const { store } = threeRuns();
    tamper(store, sql);
    const breach = named(store);
    expect(breach).toMatchObject({ ledger, run });
    expect(breach.sentence).toMatch(sentence);
  });

  it('names a run that was made up, sealed by nobody', () => {
    const { store } = threeRuns();
    tamper(store, `INSERT INTO runs SELECT 4, bench, channel, state, verdict, started, ended, started_wall, ended_wall, plan, thresholds, instrument, software, outcome, samples_end, marks_end, read_from, read_to, read_lid FROM runs WHERE number = 1`);
    expect(named(store)).toEqual({ ledger: null, run: 4, sentence: 'run 4 has no sealed record' });
  });

  it('cannot be cut short unnoticed by whoever kept a seal', () => {
    const { store } = threeRuns();
    const kept = store.ledger.last()?.seal ?? '';
    expect(verifyLedger(store, { knownSeal: kept }).intact).toBe(true);
    tamper(store, 'DELETE FROM ledger WHERE run = 3');
    tamper(store, 'DELETE FROM entries WHERE run = 3');
    tamper(store, 'DELETE FROM runs WHERE number = 3');
    expect(verifyLedger(store).intact).toBe(true);
    expect(verifyLedger(store, { knownSeal: kept }).breaches[0]?.sentence).toMatch(/does not contain the seal/);
  });

  it('checks signatures against the key that is given', () => {
    const [keys, other] = [keygen(), keygen()];
    const { store } = threeRuns({ signer: signerFrom(keys.privateKey) });
    expect(verifyLedger(store, { publicKey: keys.publicKey })).toMatchObject({ intact: true, signed: 6 });
    expect(verifyLedger(store, { publicKey: other.publicKey }).breaches).toHaveLength(6);
    tamper(store, 'UPDATE ledger SET signature = NULL WHERE number = 5');
    expect(verifyLedger(store, { publicKey: keys.publicKey }).breaches).toEqual([{ ledger: 5, run: 3, sentence: 'is not signed' }]);
  });

  it('names any record, entry or trace in which a single byte was flipped', () => {
    const { store } = threeRuns();
    store.compact();
    tamper(store, `UPDATE facts SET value = value WHERE key = 'begun'`);
    // Table, column, key column, key, and the run to be named.
    const places = [1, 2, 3].flatMap((run) => {
      const ids = (sql: string) => store.db.prepare<[{ run: number }], number>(sql).pluck().all({ run });
      const within = 'earliest <= (SELECT ended FROM runs WHERE number = :run) AND latest >= (SELECT started FROM runs WHERE number = :run)';
      return [
        ...ids('SELECT number FROM ledger WHERE run = :run').flatMap((id) => ['record', 'previous', 'seal'].map((column) => ['ledger', column, 'number', id, run] as const)),
        ['runs', 'outcome', 'number', run, run] as const,
        ['runs', 'instrument', 'number', run, run] as const,
        ['runs', 'software', 'number', run, run] as const,
        ...ids('SELECT id FROM entries WHERE run = :run').map((id) => ['entries', 'content', 'id', id, run] as const),
        ...ids(`SELECT id FROM blocks WHERE ${within}`).map((id) => ['contents', 'samples', 'block', id, run] as const),
        ...ids(`SELECT s.id FROM summaries s JOIN blocks b ON b.id = s.id % 1099511627776 WHERE ${within}`).map((id) => ['summaries', 'content', 'id', id, run] as const),
      ];
    });
    expect(places.filter(([table]) => table === 'contents').length).toBeGreaterThan(2);
    fc.assert(
      fc.property(fc.constantFrom(...places), fc.nat(), fc.integer({ min: 1, max: 127 }), ([table, column, key, id, run], where, bits) => {
        const read = store.db.prepare<[number], string | Buffer>(`SELECT ${column} FROM ${table} WHERE ${key} = ?`).pluck();
        const write = store.db.prepare(`UPDATE ${table} SET ${column} = ? WHERE ${key} = ?`);
        const whole = read.get(id) ?? expect.fail(`nothing in ${table}`);
        const bytes = Buffer.from(whole);
        bytes[where % bytes.length]! ^= bits;
        // A NUL inside a text would end it for SQLite; texts are flipped within ASCII.
        const changed = typeof whole === 'string' ? bytes.toString('latin1').replaceAll('\0', '?') : bytes;
        write.run(changed, id);
        const { breaches } = verifyLedger(store);
        write.run(whole, id);
        expect(breaches.map((breach) => breach.run)).toContain(run);
        expect(breaches[0]?.run).toBe(run);
      }),
      { numRuns: 200 },
    );
    expect(verifyLedger(store).intact).toBe(true);
  });
});
