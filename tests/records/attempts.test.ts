import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { Outcome, Verdict } from '../../src/core/outcome.js';
import { attemptSentence, attemptsOf } from '../../src/records/attempts.js';
import type { Store } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { emptyFolder, outcomeOf, record, storeWithRuns } from './example-store.js';
import { tamper } from './tamper.js';

/** A run that lost `lost` bar of the 10 allowed. */
function outcomeWith(verdict: Verdict, lost: number): Outcome {
  const sentence = `lost ${lost.toFixed(1)} bar during the hold, at most 10.0 bar allowed`;
  return {
    ...outcomeOf(verdict),
    findings: [{ rule: 'drop', outcome: verdict === 'pass' ? 'met' : 'broken', measured: lost, limit: 10, unit: 'bar', uncertainty: null, at: 72, sentence }],
  };
}

/** Six runs of other assemblies, then runs of the assemblies that are named. */
function bench() {
  const { store, channel } = storeWithRuns(join(emptyFolder(), 'bench.db'), 6);
  const [plan, thresholds] = ['plan', 'thresholds'].map((kind) => store.versions.list(kind as 'plan' | 'thresholds')[0]?.hash ?? '') as [string, string];
  let from = 100;
  const open = () => store.openRun({ channel, from, plan, thresholds, instrument: { identity: 'PT-7' } });
  const run = (assemblies: readonly string[], verdict: Verdict, lost: number): number => {
    const number = open();
    store.addEntry(number, { kind: 'job', assemblies: [...assemblies], operator: 'J. Doe' }, 'J. Doe');
    store.finishRun(number, { to: record(store, channel, from, 300), outcome: outcomeWith(verdict, lost) });
    from += 10;
    return number;
  };
  return { store, open, run };
}

const told = (store: Store, serial: string, run: number) => attemptSentence(attemptsOf(store, serial), run);

describe('FC-50 failed runs disappear, results get edited', () => {
  function failThenPass(): Store {
    const { store, run } = bench();
    expect(run(['A-101', 'A-102'], 'fail', 14)).toBe(7);
    expect(run(['A-101'], 'pass', 6.5)).toBe(8);
    expect(verifyLedger(store).intact).toBe(true);
    return store;
  }
  const sentences = (store: Store) => verifyLedger(store).breaches.map(({ sentence }) => sentence);

  it('names the attempt and the earlier one', () => {
    const store = failThenPass();
    expect(told(store, 'A-101', 8)).toBe('attempt 2 of 2, run 7 not passed');
    expect(told(store, 'A-101', 7)).toBe('attempt 1 of 2, later run 8 passed');
    expect(told(store, 'A-102', 7)).toBe('attempt 1 of 1');
    expect(told(store, 'A-102', 8)).toBeNull();
  });

  it('the check names the run that was deleted', () => {
    const store = failThenPass();
    tamper(store, 'DELETE FROM runs WHERE number = 7');
    expect(sentences(store)).toContain('run 7 is missing');
    // The attempt is still told, as one that nobody can show to have passed.
    expect(told(store, 'A-101', 8)).toBe('attempt 2 of 2, run 7 is missing');
  });

  it('the check names the run that was deleted with everything said of it', () => {
    const store = failThenPass();
    for (const table of ['ledger', 'entries']) tamper(store, `DELETE FROM ${table} WHERE run = 7`);
    tamper(store, 'DELETE FROM runs WHERE number = 7');
    expect(verifyLedger(store).breaches).toContainEqual({ ledger: null, run: 7, sentence: 'run 7 is missing' });
    expect(sentences(store)).toContain('2 records before it are missing');
  });

  it('the check names the run whose 14.0 became 4.0, in the table or in its sealed record', () => {
    const edited = `replace(replace(%, '14.0 bar', '4.0 bar'), '"measured":14,', '"measured":4,')`;
    const table = failThenPass();
    tamper(table, `UPDATE runs SET outcome = ${edited.replace('%', 'outcome')} WHERE number = 7`);
    expect(table.getRun(7)?.outcome?.findings[0]).toMatchObject({ measured: 4, sentence: 'lost 4.0 bar during the hold, at most 10.0 bar allowed' });
    expect(verifyLedger(table).breaches).toEqual([expect.objectContaining({ run: 7, sentence: 'run 7: outcome changed since it was sealed' })]);

    const both = failThenPass();
    tamper(both, `UPDATE runs SET outcome = ${edited.replace('%', 'outcome')} WHERE number = 7`);
    tamper(both, `UPDATE ledger SET record = ${edited.replace('%', 'record')} WHERE run = 7 AND entry IS NULL`);
    expect(verifyLedger(both).breaches).toEqual([expect.objectContaining({ run: 7, sentence: 'the record or its seal was changed' })]);
  });
});

describe('attempts of an assembly', () => {
  it('finds the serial number however it was typed, and no other', () => {
    const { store, run } = bench();
    run([' a-101 '], 'fail', 14);
    run(['A-1010', 'XA-101'], 'fail', 14);
    run(['A-101'], 'pass', 6);
    expect(attemptsOf(store, 'A-101').map((attempt) => attempt.run)).toEqual([7, 9]);
    expect(attemptsOf(store, 'H-1').map((attempt) => attempt.run)).toEqual([1, 2, 3, 4, 5, 6]);
    expect(attemptsOf(store, 'A-999')).toEqual([]);
    expect(attemptsOf(store, '')).toEqual([]);
  });

  it('keeps a run that was corrected away, and says who did it', () => {
    const { store, run } = bench();
    run(['A-101'], 'fail', 14);
    run(['A-101'], 'pass', 6);
    store.addEntry(7, { kind: 'job', assemblies: ['A-111'] }, 'M. Roe', 'mistyped');
    expect(told(store, 'A-101', 8)).toBe('attempt 1 of 1, run 7 not passed named it until M. Roe corrected that');
    expect(told(store, 'A-111', 7)).toBe('attempt 1 of 1');
    store.addEntry(7, { kind: 'job', assemblies: ['A-101'] }, 'J. Doe', 'it was right at first');
    expect(told(store, 'A-101', 8)).toBe('attempt 2 of 2, run 7 not passed');
  });

  it('lets no later judgement hide how a run ended, and tells a run that goes on', () => {
    const { store, run, open } = bench();
    run(['A-101'], 'inconclusive', 9.8);
    run(['A-101'], 'pass', 6);
    const { plan, thresholds } = store.getRun(7) ?? expect.fail('no run 7');
    store.addEntry(7, { kind: 'judged-again', plan: plan ?? '', thresholds, outcome: { verdict: 'pass' } }, 'M. Roe');
    store.addEntry(open(), { kind: 'job', assemblies: ['A-101'] }, 'J. Doe');
    expect(told(store, 'A-101', 8)).toBe('attempt 2 of 3, run 7 not passed (judged again: pass), later run 9 still open');
  });
});
