import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { parsePlan } from '../../src/core/plan.js';
import { parseThresholds, standardThresholds } from '../../src/core/thresholds.js';
import type { Trace } from '../../src/core/trace.js';
import { labelRun } from '../../src/records/run-labels.js';
import { openStore } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import type { LibraryAddress, LibraryChoice } from '../../src/tuning/run-library.js';
import type { Compared } from '../../src/tuning/tasks.js';
import { FlipReport, whatWouldFlip } from '../../src/tuning/what-would-flip.js';
import { runScenario } from '../../simulators/run-scenario.js';
import { storeOfRuns, testSoftware, type StoredRun } from './store-of-runs.js';

const bolder = parseThresholds({ thresholds: 'bolder', spikeHeight: '3 %', settleSlope: '3 %/min', quietTime: '4 s' }, 'bolder.yaml');

let folder: string;
let address: LibraryAddress;
let stored: readonly StoredRun[];

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-compare-'));
  const path = join(folder, 'records.sqlite');
  const families = ['pass-plain', 'leak-grows', 'burst-in-hold', 'spikes-in-rise', 'retouched-while-settling', 'pass-lost-samples', 'guarded-over'];
  stored = storeOfRuns(path, families.map((name) => runScenario(name, 2)));
  address = { kind: 'store', path, software: testSoftware };
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function compared(candidate: Parameters<typeof whatWouldFlip>[1], choice: LibraryChoice = {}): Promise<{ all: Compared[]; report: FlipReport }> {
  const report = new FlipReport();
  const all: Compared[] = [];
  for await (const step of whatWouldFlip(address, candidate, { choice, threads: 0, whole: true })) {
    report.take(step);
    if ('result' in step.run) all.push(step.run.result);
  }
  return { all, report };
}

/** Readings that are there: the judge of a plain trace takes them all as good. */
const upTo = ({ time, pressure, flags }: Trace, last: number): Trace => {
  const count = time.findLastIndex((t) => t <= last) + 1;
  return { time: time.slice(0, count), pressure: pressure.slice(0, count), ...(flags && { flags: flags.slice(0, count) }) };
};

describe('recorded runs judged again', () => {
  it('come to what is on record by their own thresholds', async () => {
    expect(stored.length).toBeGreaterThanOrEqual(6);
    const { all, report } = await compared({});
    expect(all.map(({ outcomes }) => outcomes?.after)).toEqual(stored.map(({ outcome }) => [outcome]));
    expect(report.summary()).toMatchObject({ judged: stored.length, flips: 0, unread: 0, byConcern: { none: stored.length } });
  });

  it('come to what judge says of each, one by one, by other thresholds and another plan', async () => {
    const plan = parsePlan({ plan: 'another', testPressure: '400 bar', holdTime: '20 s', maximumDrop: '0.05 %' }, 'another.yaml');
    for (const candidate of [{ thresholds: bolder }, { thresholds: bolder, plan }]) {
      const { all, report } = await compared(candidate);
      const { store } = openStore(join(folder, 'records.sqlite'), { software: testSoftware, readOnly: true });
      const byJudge = stored.map(({ run, trace, number }) =>
        judge(upTo(trace, store.getRun(number)?.reading?.to ?? NaN), candidate.plan ?? run.plan, candidate.thresholds ?? run.thresholds, run.setup.instrument));
      store.close();
      expect(all.map(({ outcomes }) => outcomes?.after)).toEqual(byJudge);
      // The change is real, or the comparison shows nothing.
      expect(report.summary().flips).toBeGreaterThan(0);
      expect(report.summary().flips).toBe(byJudge.filter(([outcome], i) => outcome?.verdict !== stored[i]?.outcome.verdict).length);
    }
  });

  it('are told with new passes first, then new fails, and name the findings that change', async () => {
    const { report } = await compared({ thresholds: bolder });
    const runs = report.runs();
    const order = ['new pass', 'new fail', 'no longer decided', 'findings', 'figures'];
    const places = runs.map(({ change }) => order.indexOf(change.concern));
    expect(places).toEqual(places.toSorted((a, b) => a - b));
    const burst = runs.find(({ key }) => key === stored.find(({ run }) => run.scenario.name === 'leak-grows')?.number);
    expect(burst?.change).toMatchObject({ concern: 'new pass', before: { verdict: 'fail' }, after: { verdict: 'pass' } });
    expect(burst?.change.findings).toContainEqual(expect.objectContaining({ rule: 'drop', before: 'broken', after: 'met' }));
  });

  it('can be chosen by hose, plan, verdict, time and number', async () => {
    const first = stored[0];
    const keys = async (choice: LibraryChoice) => (await compared({ thresholds: standardThresholds }, choice)).all.map(({ key }) => key);
    expect(await keys({ numbers: [[2, 3]] })).toEqual([2, 3]);
    expect(await keys({ plan: first?.run.plan.plan ?? '' })).toContain(1);
    expect(await keys({ hose: first?.run.plan.plan ?? '' })).toContain(1);
    expect(await keys({ verdict: 'fail' })).toEqual(stored.filter(({ outcome }) => outcome.verdict === 'fail').map(({ number }) => number));
    expect(await keys({ since: Date.UTC(2027, 0, 1) })).toEqual([]);
    expect((await keys({ until: Date.UTC(2027, 0, 1) })).length).toBe(stored.length);
    expect(await keys({ bench: 'another' })).toEqual([]);
  });

  it('stop when they are told to', async () => {
    const controller = new AbortController();
    let seen = 0;
    const reading = async () => {
      for await (const step of whatWouldFlip(address, { thresholds: bolder }, { threads: 0, signal: controller.signal })) {
        seen = step.done;
        controller.abort();
      }
    };
    await expect(reading()).rejects.toMatchObject({ name: 'AbortError' });
    expect(seen).toBe(1);
  });
});

describe('labels', () => {
  it('are appended and sealed, need a reason when they contradict, and show in the comparison', async () => {
    const leaking = stored.find(({ run }) => run.scenario.name === 'leak-grows')?.number ?? 0;
    const spiky = stored.find(({ run }) => run.scenario.name === 'spikes-in-rise');
    const spike = spiky?.outcome.events.find(({ kind }) => kind === 'spike');
    const { store } = openStore(join(folder, 'records.sqlite'), { software: testSoftware });
    try {
      labelRun(store, leaking, { label: 'truly sound' }, { who: 'R. Roe' });
      expect(() => labelRun(store, leaking, { label: 'truly leaking' }, { who: 'R. Roe' })).toThrow(/why: is empty/);
      labelRun(store, leaking, { label: 'truly leaking' }, { who: 'R. Roe', why: 'taken apart: the seal was cut' });
      labelRun(store, spiky?.number ?? 0, { label: 'real spike', at: (spike?.at ?? 0) + 0.05 }, { who: 'R. Roe' });
      expect(() => labelRun(store, leaking, { label: 'truly sound', at: 3 }, { who: 'R. Roe', why: 'again' })).toThrow(/at: belongs to/);
      expect(() => labelRun(store, leaking, { label: 'no spike' }, { who: 'R. Roe' })).toThrow(/at: is missing/);
      expect(() => labelRun(store, 999, { label: 'truly sound' }, { who: 'R. Roe' })).toThrow(/there is no such run/);
      expect(verifyLedger(store, { judgeAgain: true })).toMatchObject({ intact: true, again: { same: stored.length } });
    } finally {
      store.close();
    }
    const { report } = await compared({ thresholds: bolder }, { label: 'truly leaking' });
    expect(report.summary()).toMatchObject({ judged: 1, againstLabels: 1 });
    const { all } = await compared({ thresholds: bolder }, { label: 'labelled' });
    expect(all.map(({ labels }) => labels)).toEqual(expect.arrayContaining([
      { truth: 'truly leaking', spikes: [] },
      { truth: null, spikes: [{ at: spike?.at, real: true }] },
    ]));
  });
});
