import { describe, expect, it } from 'vitest';
import type { RuleOutcome } from '../../src/core/outcome.js';
import { runScenario } from '../../simulators/run-scenario.js';
import { acceptableVerdicts, type TrueFinding } from '../../simulators/truth.js';

const finding = (...possible: [RuleOutcome, ...RuleOutcome[]]): TrueFinding => ({ rule: 'drop', outcome: possible[0], possible, measured: null, limit: null, cycle: 1 });

describe('acceptable verdicts', () => {
  it.each<[string, TrueFinding[], string[]]>([
    ['all met', [finding('met'), finding('met')], ['pass']],
    ['a sure break outweighs any doubt', [finding('broken'), finding('undecided', 'met')], ['fail']],
    ['a sure doubt without a break', [finding('undecided'), finding('met')], ['inconclusive']],
    ['a break that may not be seen', [finding('broken', 'met'), finding('met')], ['fail', 'pass']],
    ['a break that may not be seen, beside a sure doubt', [finding('broken', 'met'), finding('undecided')], ['fail', 'inconclusive']],
    ['everything possible', [finding('met', 'undecided', 'broken')], ['fail', 'inconclusive', 'pass']],
    ['nothing checked is no pass', [], []],
  ])('%s', (_name, findings, verdicts) => expect(acceptableVerdicts(findings)).toEqual(verdicts));
});

describe('truth', () => {
  it('has the leak that was set, less what settles back: orifice leaks of 0.8 to 1.6 % of the test pressure a minute', () => {
    for (const seed of [1, 2, 3, 4]) {
      const { truth, setup, plan } = runScenario('leak-orifice', seed);
      const set = setup.bench.leaks[0]?.rate ?? Number.NaN;
      const leak = truth.cycles[0]?.leak;
      expect(leak?.startedAt).toBeNull();
      expect((leak?.rate ?? 0) / set).toBeGreaterThan(0.85);
      expect((leak?.rate ?? 0) / set).toBeLessThan(1.02);
      expect(set / plan.testPressure).toBeGreaterThan(0.007);
    }
  });

  it('tells when a leak began after the last stroke', () => {
    const { truth, bench } = runScenario('leak-starts-mid-hold', 1);
    const cycle = truth.cycles[0];
    expect(cycle?.leak?.startedAt).toBeCloseTo(bench.leakAt[0] ?? Number.NaN, 6);
    expect(cycle?.leak?.startedAt ?? 0).toBeGreaterThan((cycle?.settled ?? 0) + 15);
  });

  it('a tight assembly loses nothing by leakage however much it settles', () => {
    const { truth } = runScenario('settling-only', 2);
    expect(truth.cycles[0]?.leak?.rate).toBe(0);
    expect(truth.cycles[0]?.leak?.settlingRate).toBeGreaterThan(0.1);
  });

  it('counts a spike in the peak and not a glitch', () => {
    const spiked = runScenario('spike-above-ceiling-hold', 1);
    expect(spiked.truth.cycles[0]?.peak).toBeGreaterThan(spiked.plan.ceilingPressure ?? 0);
    const glitched = runScenario('glitch-above-ceiling', 1);
    expect(glitched.truth.cycles[0]?.peak).toBeLessThan(glitched.plan.ceilingPressure ?? 0);
    expect(Math.max(...glitched.samples.pressure)).toBeGreaterThan(glitched.plan.ceilingPressure ?? Number.POSITIVE_INFINITY);
  });

  it('numbers three cycles and finds the one that leaks', () => {
    const { truth } = runScenario('three-cycles-second-leaks', 1);
    expect(truth.cycles.length).toBe(2);
    expect(truth.findings.filter((f) => f.outcome === 'broken').every((f) => f.cycle === 2)).toBe(true);
  });

  it('says that times cannot be compared when the sensor did not see the hose', () => {
    expect(runScenario('gauge-valve-shut', 1).truth.observable).toBe(false);
    expect(runScenario('pass-plain', 1).truth.observable).toBe(true);
  });

  it('puts the start of hold inside its lenient and strict reading', () => {
    for (const name of ['pass-plain', 'leak-orifice', 'settling-only']) {
      const cycle = runScenario(name, 3).truth.cycles[0];
      const [early, late] = cycle?.settledRange ?? [null, null];
      expect(early ?? Number.NaN).toBeLessThanOrEqual(cycle?.settled ?? Number.NaN);
      expect(late ?? Number.NaN).toBeGreaterThanOrEqual(cycle?.settled ?? Number.NaN);
    }
  });
});
