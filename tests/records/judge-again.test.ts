import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { canonicalJson } from '../../src/records/canonical-json.js';
import { extentOf, runRecord, traceSeal } from '../../src/records/run-record.js';
import { sealOf } from '../../src/records/seal.js';
import { openStore, type Run } from '../../src/records/store.js';
import { tellAgain } from '../../src/records/tell-again.js';
import { verifyLedger, type Verification } from '../../src/records/verify-ledger.js';
import { HandBench, judgingBy } from '../daemon/hand-bench.js';
import { tamper } from './tamper.js';

let bench: HandBench;
const begin = (...args: ConstructorParameters<typeof HandBench>): HandBench => {
  bench = new HandBench(...args);
  bench.daemon.start();
  return bench;
};
afterEach(() => bench.clear());

const again = (): Verification => {
  const { store } = openStore(join(bench.folder, 'records.sqlite'), { software: 'dwellkeeper test', readOnly: true });
  try {
    return verifyLedger(store, { judgeAgain: true });
  } finally {
    store.close();
  }
};
const runs = (): Run[] => bench.stored((store) => store.listRuns({ limit: 100 }).toReversed().flatMap(({ number }) => store.getRun(number) ?? []));

describe('judging a recorded run again', () => {
  it('comes to the same outcome after a long idle time whose noise was another', () => {
    begin();
    // Half an hour of idle reading: coarse and quiet first, then restless, then fine.
    for (let i = 0; i < 6000; i++) {
      bench.wait(0.1);
      bench.line((i % 50 === 0 ? 0.5 : 0).toFixed(1));
    }
    for (let i = 0; i < 6000; i++) {
      bench.wait(0.1);
      bench.line((((i * 71) % 97) / 40).toFixed(3));
    }
    bench.ramp(0, 0, 100);
    bench.goodRun();
    bench.daemon.stop();
    expect(again()).toMatchObject({ intact: true, again: { same: 1, remarks: [] } });
    const [run] = runs();
    // Nothing older than two hand-overs: the half-hour before plays no part.
    expect(run?.from).toBeGreaterThan(1200);
    expect((run?.from ?? 0) - (run?.reading?.from ?? -Infinity)).toBeLessThan(90);
    expect((run?.from ?? 0) - (run?.reading?.from ?? -Infinity)).toBeGreaterThan(30);
    expect(run?.outcome?.signal.samples).toBeLessThan(60 * 20 * 3);
  });

  it('does so for runs close on each other, of which one reader sees several', () => {
    begin();
    for (const hold of [10, 2, 10, 4, 10]) bench.goodRun(hold);
    bench.ramp(0, 0, 70);
    bench.goodRun();
    bench.daemon.stop();
    expect(again()).toMatchObject({ intact: true, again: { same: 6, remarks: [] } });
    const [first, second] = runs();
    expect(second?.reading?.from).toBe(first?.reading?.from);
  });

  it('does so for a run during which the program ended and came back', () => {
    begin();
    bench.ramp(0, 0, 80);
    bench.ramp(0, 560, 10);
    bench.ramp(560, 552, 2);
    bench.daemon.stop();
    bench.wait(5);
    bench.restart();
    bench.ramp(552, 552, 20);
    bench.ramp(552, 0, 1);
    bench.ramp(0, 0, 8);
    bench.goodRun();
    bench.daemon.stop();
    expect(runs().map(({ state }) => state)).toEqual(['interrupted', 'finished']);
    expect(again()).toMatchObject({ intact: true, again: { same: 2, remarks: [] } });
  });

  it('knows how the lid stood when reading began', () => {
    class LidBench extends HandBench {
      lid: 0 | 1 = 1;
      override line(text: string): void {
        super.line(`${text} L${this.lid}`);
      }
    }
    const input = { driver: 'serial-line', path: '/dev/ttyS9', firstLine: 'keep', pattern: '(?<value>[-+\\d.]+) L(?<lid>[01])', contacts: { lid: { closed: '1', open: '0' } } };
    const lidded = new LidBench(undefined, { input });
    bench = lidded;
    lidded.daemon.start();
    lidded.ramp(0, 0, 100);
    lidded.goodRun();
    lidded.lid = 0;
    lidded.ramp(0, 0, 150);
    lidded.goodRun();
    lidded.daemon.stop();
    expect(runs().map(({ reading, verdict }) => [reading?.lid, verdict])).toEqual([['closed', 'pass'], ['open', 'inconclusive']]);
    expect(runs()[1]?.outcome?.findings).toContainEqual(expect.objectContaining({ rule: 'lid', outcome: 'undecided' }));
    expect(again()).toMatchObject({ intact: true, again: { same: 2, remarks: [] } });
  });

  it('names a run that was sealed anew with a verdict that its trace does not give', () => {
    begin();
    bench.ramp(0, 0, 40);
    bench.goodRun(2);
    bench.daemon.stop();
    expect(runs()[0]?.verdict).toBe('inconclusive');
    const { store } = openStore(join(bench.folder, 'records.sqlite'), { software: 'dwellkeeper test' });
    try {
      tamper(store, "UPDATE runs SET verdict = 'pass', outcome = json_set(outcome, '$.verdict', 'pass') WHERE number = 1");
      const run = store.getRun(1);
      const row = store.ledger.last();
      if (!run?.received || row === null) return expect.fail('no run');
      const { from, to } = extentOf(run);
      const record = canonicalJson(runRecord(run, store, traceSeal(store.traces, run.channel, from, to, run.received)));
      store.db.prepare('UPDATE ledger SET record = ?, seal = ? WHERE number = 1').run(record, sealOf(record, row.previous));
      expect(verifyLedger(store).intact).toBe(true);
    } finally {
      store.close();
    }
    expect(again().breaches).toEqual([{ ledger: 1, run: 1, sentence: 'run 1: judged again from its trace, the verdict is inconclusive, on record is pass' }]);
  });

  it('says when another version of the program judges otherwise, and when a record does not tell enough', () => {
    begin();
    bench.ramp(0, 0, 40);
    bench.goodRun(2);
    bench.daemon.stop();
    const [run] = runs();
    if (!run?.reading || run.outcome === null) return expect.fail('no run');
    const recorded = { number: 1, software: 'dwellkeeper 0.0.9', from: run.from, plan: null, thresholds: judgingBy().thresholds.value, instrument: null, outcome: run.outcome };
    const nothing = () => ({ marks: [], pieces: [] });
    expect(tellAgain({ ...recorded, reading: run.reading }, 'dwellkeeper 0.1.0', nothing)).toEqual({ is: 'remark', sentence: 'run 1: judged again from its trace, no run is found (recorded by dwellkeeper 0.0.9, judged again by dwellkeeper 0.1.0)' });
    expect(tellAgain({ ...recorded, reading: run.reading }, 'dwellkeeper 0.0.9', nothing).is).toBe('different');
    expect(tellAgain({ ...recorded, reading: null }, 'dwellkeeper 0.1.0', nothing)).toMatchObject({ is: 'remark', sentence: expect.stringContaining('does not say where reading began') as string });
  });
});
