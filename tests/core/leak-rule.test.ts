/** The rule on leaks in words and figures, on runs of which the leak is known. */
import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { runScenario } from '../../simulators/run-scenario.js';

function judged(scenario: string, seed: number) {
  const { samples, plan, thresholds, setup, truth } = runScenario(scenario, seed);
  const [outcome] = judge(samples, plan, thresholds, setup.instrument);
  const finding = outcome?.findings.find(({ rule }) => rule === 'leak');
  const leak = outcome?.cycles[0]?.leak;
  const real = truth.cycles[0]?.leak?.rate;
  if (outcome === undefined || finding === undefined || leak?.lowest === undefined || leak.highest === undefined || real === undefined) throw new Error('no leak');
  return { finding, leak: { ...leak, lowest: leak.lowest, highest: leak.highest }, real, limit: plan.leakLimit ?? NaN };
}

describe('where several settlings were seen', () => {
  it('a leak far above the limit is one, whatever settles besides', () => {
    const { finding, leak, real, limit } = judged('leak-orifice', 2);
    expect(finding.outcome).toBe('broken');
    expect(leak.lowest).toBeGreaterThan(limit);
    expect(leak.lowest).toBeLessThan(real);
    expect(leak.highest).toBeGreaterThan(real);
    expect(leak.rate - leak.lowest).toBeGreaterThan(1.3 * (leak.highest - leak.rate));
    expect(finding.sentence).toMatch(/^The steady loss is 8\.\d+ bar\/min, and lies between 7\.\d+ bar\/min and 8\.\d+ bar\/min, because a slow settling may be part of it; at most 3\.7 bar\/min is allowed: this is a leak, not settling\.$/);
  });

  it('one near the limit stays undecided, and the sentence says what would decide', () => {
    const { finding, leak, limit } = judged('leak-near-limit', 3);
    expect(finding.outcome).toBe('undecided');
    expect(leak.lowest).toBeLessThan(limit);
    expect(leak.highest).toBeGreaterThan(limit);
    expect(finding.sentence).toContain('; the limit of 4.4 bar/min lies within that. A longer hold would decide it.');
  });

  it('what may be nothing is told as 0, not as a gain', () => {
    const { finding, leak } = judged('leak-allowed', 4);
    expect(finding.outcome).toBe('met');
    expect(leak.lowest).toBeLessThan(0);
    expect(finding.sentence).toContain(' lies between 0 bar/min and ');
  });
});

it('where one settling was seen the interval is even', () => {
  const { finding, leak, real } = judged('leak-one-settling', 1);
  expect(finding.outcome).toBe('broken');
  expect(finding.sentence).toMatch(/^The steady loss is 9\.5\d bar\/min, give or take 0\.00\d+ bar\/min;/);
  expect(leak.highest - leak.rate).toBeCloseTo(leak.rate - leak.lowest, 4);
  expect(Math.abs(leak.rate - real)).toBeLessThan(0.01);
});
