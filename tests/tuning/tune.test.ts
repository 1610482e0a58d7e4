import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import type { Outcome } from '../../src/core/outcome.js';
import { parseThresholds } from '../../src/core/thresholds.js';
import { wilsonInterval } from '../../src/statistics/wilson-interval.js';
import { chooseValue } from '../../src/tuning/choose-value.js';
import { knownTruth } from '../../src/tuning/known-truth.js';
import type { LabelledRun } from '../../src/tuning/labelled-runs.js';
import { exactInterval } from '../../src/tuning/proportion.js';
import { proposeThresholds } from '../../src/tuning/propose.js';
import type { RunChange } from '../../src/tuning/run-change.js';
import { mark } from '../../src/tuning/sweep-marks.js';
import { parseSweep } from '../../src/tuning/sweep-spec.js';
import { costOf, tally, usualCosts } from '../../src/tuning/tally.js';
import { isAgainstLabel } from '../../src/tuning/what-would-flip.js';
import { writtenThresholds } from '../../src/tuning/written-thresholds.js';
import { writeRuns } from '../../simulators/run-files.js';
import { demoThresholds } from '../../simulators/scenarios/playlists.js';
import { proofOfTuning } from './proof-of-tuning.js';

describe('intervals of a share', () => {
  // Exact interval of 4 in 20 at 90 %: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1 (from memory).
  it('is that of the handbook', () => {
    const { lower, upper } = exactInterval(4, 20, 0.9);
    expect(lower).toBeCloseTo(0.071354, 5);
    expect(upper).toBeCloseTo(0.401029, 5);
  });

  // Clopper and Pearson, Biometrika 26 (1934) 404: of none in n the upper end is where (1 - p)^n is the tail.
  it('of none is known in closed form', () => {
    for (const n of [1, 10, 30, 300]) expect(exactInterval(0, n).upper).toBeCloseTo(1 - 0.025 ** (1 / n), 9);
    for (const n of [1, 10, 30, 300]) expect(exactInterval(n, n).lower).toBeCloseTo(0.025 ** (1 / n), 9);
    expect(exactInterval(0, 0)).toEqual({ lower: 0, upper: 1 });
  });

  // Wilson 1927: the ends are where (share - p)^2 = z^2 p (1 - p) / n.
  it('by score solves its own equation and lies within the exact one', () => {
    for (const [count, of] of [[4, 20], [1, 50], [30, 31]] as const) {
      const { lower, upper } = wilsonInterval(count, of) ?? { lower: NaN, upper: NaN };
      for (const p of [lower, upper]) expect((count / of - p) ** 2).toBeCloseTo((1.959964 ** 2 * p * (1 - p)) / of, 6);
      const exact = exactInterval(count, of);
      expect([exact.lower < lower, upper < exact.upper]).toEqual([true, true]);
    }
  });
});

describe('a sweep as written', () => {
  it.each([
    ['spikeHeight=0.5..2.5 %/5', ['0.5 %', '1 %', '1.5 %', '2 %', '2.5 %']],
    ['settleSlope=0.1 %/min..1 %/min/3', ['0.1 %/min', '0.316 %/min', '1 %/min']],
    ['quietTime=5 s..10 s/2', ['5 s', '10 s']],
    ['spikeHeight=2..4 bar/3', ['2 bar', '3 bar', '4 bar']],
  ])('%s', (text, values) => expect(parseSweep(text).values).toEqual(values));

  it.each([
    ['spikeHeight', /should be a threshold and a range/],
    ['spikeHeight=1..2', /one unit for both ends/],
    ['spikeHeight=1 bar..2 %', /one unit for both ends/],
    ['quietTime=1..2 bar', /should be a time/],
    ['quietTime=0.1..2 s', /should be 0\.5 s to 600 s/],
    ['quietTime=1..2 s/99', /99 values should be 2 to 25/],
    ['thresholds=1..2 s', /unknown threshold/],
  ])('%s is refused', (text, sentence) => expect(() => parseSweep(text)).toThrow(sentence));

  it('thresholds are written so that they read the same', () => {
    const all = parseThresholds({ thresholds: 'x', spikeHeight: '7 bar', settleSlope: '0.7 %/min', burstFraction: '45 %', ventRate: '5 bar/s', slewLimit: '900 %/s', gap: '0.3 s' }, 'x');
    expect(parseThresholds(writtenThresholds(all), 'written')).toEqual(all);
    expect(writtenThresholds(all)).toMatchObject({ spikeHeight: '7 bar', settleSlope: '0.7 %/min', ventRate: '5 bar/s' });
  });
});

describe('what is known of a run', () => {
  const outcome = (verdict: 'pass' | 'fail' | 'inconclusive', ...spikes: number[]): Outcome[] =>
    [{ verdict, events: spikes.map((at) => ({ kind: 'spike', at })) } as unknown as Outcome];
  const costs = { falsePass: 100, falseFail: 1, undecided: 0.2, spike: 0.5 };

  it('where the recording cannot tell, a pass and a fail are both wrong, and undecided is right', () => {
    const { labels } = knownTruth('{"verdict":"inconclusive","decidable":true}', 'x.truth.json');
    expect(labels).toEqual({ truth: 'cannot tell', spikes: [] });
    const cost = (verdict: 'pass' | 'fail' | 'inconclusive') => costOf({ labels, marked: mark(outcome(verdict), labels) }, costs);
    expect([cost('pass'), cost('fail'), cost('inconclusive')]).toEqual([100, 1, 0]);
    const cases = (['pass', 'fail', 'inconclusive'] as const).map((verdict) => ({ labels, marked: mark(outcome(verdict), labels) }));
    expect(tally(cases, costs)).toMatchObject({ falsePass: { count: 1, of: 3 }, falseFail: { count: 1, of: 3 }, undecided: { count: 0, of: 0 }, cost: 101 });
    for (const concern of ['new pass', 'new fail'] as const) expect(isAgainstLabel({ labels, change: { concern } as RunChange })).toBe(true);
    expect(isAgainstLabel({ labels, change: { concern: 'no longer decided' } as RunChange })).toBe(false);
  });

  it('a person overrules what was worked out, and a truth at the edge of what a recording decides is none', () => {
    expect(knownTruth('{"verdict":"inconclusive","label":"truly leaking"}', 'x').labels.truth).toBe('truly leaking');
    expect(knownTruth('{"verdict":"inconclusive","label":"not known"}', 'x').labels.truth).toBeNull();
    expect(knownTruth('{"verdict":"pass","decidable":false}', 'x').labels.truth).toBeNull();
  });

  it('where all excursions are listed, any other that is told is wrong', () => {
    const listed = knownTruth('{"events":[{"kind":"spike","at":3},{"kind":"glitch","at":9}]}', 'x').labels;
    expect(mark(outcome('pass', 3, 9, 20), listed)).toMatchObject({ spikesTold: 1, spikesMissed: 0, falseSpikes: 2, falseAvoided: 0 });
    const some = knownTruth('{"spikes":[{"at":3,"real":true}]}', 'x').labels;
    expect(mark(outcome('pass', 3, 9, 20), some)).toMatchObject({ spikesTold: 1, falseSpikes: 0 });
  });
});

describe('choosing a value', () => {
  /** Labelled runs whose verdicts by the value in force and by three others are given. */
  const runs = (rows: readonly (readonly [string, 'truly leaking' | 'truly sound', ...('pass' | 'fail' | 'inconclusive')[]])[]): LabelledRun[] =>
    rows.map(([group, truth, ...verdicts], i) => ({
      name: `run ${i}`, group, labels: { truth, spikes: [] },
      marks: verdicts.map((verdict) => ({ verdict, spikesTold: 0, spikesMissed: 0, falseSpikes: 0, falseAvoided: 0 })),
    }));
  const repeated = <T>(times: number, value: T): T[] => Array.from({ length: times }, () => value);

  it('takes the middle of the values that cost least', () => {
    const set = runs([...repeated(3, ['a', 'truly sound', 'fail', 'pass', 'pass', 'pass'] as const), ...repeated(3, ['b', 'truly sound', 'fail', 'pass', 'pass', 'pass'] as const)]);
    expect(chooseValue(set, [1, 2, 3], usualCosts)).toMatchObject({ place: 1, cost: { present: 6, chosen: 0 }, heldOut: { present: 6, chosen: 0 } });
  });

  it('never buys fewer false fails with a false pass', () => {
    const set = runs([...repeated(40, ['a', 'truly sound', 'fail', 'pass'] as const), ...repeated(40, ['b', 'truly sound', 'fail', 'pass'] as const), ['b', 'truly leaking', 'fail', 'pass']]);
    expect(chooseValue(set, [1], usualCosts)).toMatchObject({ place: -1, reason: 'no value tried does better' });
    // At equal costs it would.
    expect(chooseValue(set, [1], { ...usualCosts, falsePass: 1 }).place).toBe(0);
  });

  it('does not fit one hose: what helps one and harms another when held out is not taken', () => {
    const set = runs([...repeated(9, ['soft hose', 'truly sound', 'fail', 'pass'] as const), ...repeated(8, ['stiff hose', 'truly sound', 'pass', 'fail'] as const)]);
    expect(chooseValue(set, [1], usualCosts)).toMatchObject({ place: -1, reason: expect.stringMatching(/not for hoses and plans that it has not seen/) as string });
  });

  it('takes the standard value where it is as good as others, and believes it for a single run', () => {
    const two = runs([['a', 'truly sound', 'fail', 'pass', 'pass', 'pass'], ['b', 'truly sound', 'fail', 'pass', 'pass', 'pass']]);
    expect(chooseValue(two, [1, 2, 3], usualCosts, 2).place).toBe(2);
    const one = runs([['a', 'truly sound', 'fail', 'pass'], ['b', 'truly sound', 'pass', 'pass']]);
    expect(chooseValue(one, [1], usualCosts, 0)).toMatchObject({ place: 0, reason: expect.stringMatching(/1 labelled run comes out better, and it is the standard value/) as string });
    const dear = runs([['a', 'truly sound', 'fail', 'pass'], ['b', 'truly leaking', 'fail', 'pass']]);
    expect(chooseValue(dear, [1], usualCosts, 0).place).toBe(-1);
  });

  it('says when the data cannot decide, and trusts no single run', () => {
    expect(chooseValue(runs(repeated(4, ['a', 'truly sound', 'pass', 'pass'] as const)), [1], usualCosts)).toMatchObject({ place: -1, flat: true, reason: expect.stringMatching(/cannot decide/) as string });
    expect(chooseValue(runs([['a', 'truly sound', 'fail', 'pass'], ['b', 'truly sound', 'pass', 'pass']]), [1], usualCosts)).toMatchObject({ place: -1, reason: expect.stringMatching(/one run only/) as string });
  });
});

describe('tuning on labelled runs of the simulator', () => {
  // The whole of it, on all families of the truth table: npm run tune-proof.
  it('finds from poor thresholds ones that do as well as good ones, on runs and families that it has not seen', async () => {
    const families = ['demo-pass', 'demo-drop', 'demo-spike'];
    const { report, unseen } = await proofOfTuning({
      train: { families, seeds: [1, 2] },
      unseen: { runs: { families: ['demo-pass', 'demo-spike'], seeds: [11] }, families: { families: ['demo-glitch', 'demo-leak'], seeds: [11] } },
      // Nothing ever settles by these, and no spike is high enough.
      poor: { ...demoThresholds, settleSlope: '0.001 %/min', settleTimeout: '8 s', spikeHeight: '40 %' }, good: demoThresholds,
      keys: ['settleSlope', 'settleTimeout', 'spikeHeight'], rounds: 1,
    });
    expect(report.proposals.filter(({ present, proposed }) => present !== proposed).map(({ key }) => key)).toContain('spikeHeight');
    expect(report.proposed.cost).toBeLessThan(report.present.cost);
    for (const { poor, tuned, good } of unseen) {
      expect(poor.right).toBeLessThanOrEqual(good.right);
      expect(tuned.falsePasses).toBe(0);
      expect(tuned.right).toBeGreaterThanOrEqual(good.right);
    }
    const [runs] = unseen;
    expect(runs?.poor.right).toBeLessThan(runs?.good.right ?? NaN);
    expect(runs?.poor.spikeRecall).toBeLessThan(runs?.good.spikeRecall ?? NaN);
    expect(runs?.tuned.spikeRecall).toBeGreaterThanOrEqual(runs?.good.spikeRecall ?? NaN);
    expect(report.notes.join(' ')).toContain('All labelled runs are of one hose and plan');
  }, 400_000);

  it('keeps what cannot be decided, and says why', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-tune-'));
    onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
    await writeRuns(folder, ['live-pass', 'live-drop'], 1);
    const report = await proposeThresholds({ kind: 'folder', path: folder, options: {}, truthful: true }, { keys: ['spikeHeight'], threads: 0 });
    expect(report.proposals).toMatchObject([{ key: 'spikeHeight', present: '1 %', proposed: '1 %', reason: 'no labelled run has a real spike, so the data cannot decide' }]);
  }, 200_000);
});
