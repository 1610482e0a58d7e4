import { describe, expect, it } from 'vitest';
import { listAll, listScenarios, runScenario, scenarioNamed } from '../../simulators/run-scenario.js';
import { demoPlan, demoPlaylist, testPlan, testPlaylist } from '../../simulators/player.js';
import { InputError } from '../../src/core/problems.js';

const seeds = [1, 2];

describe('scenarios', () => {
  it('are many, each with a name of its own and a line for people', () => {
    expect(listScenarios().length).toBeGreaterThanOrEqual(40);
    expect(new Set(listAll().map((s) => s.name)).size).toBe(listAll().length);
    for (const { name, summary } of listAll()) {
      expect(name).toMatch(/^[a-z0-9]+(-[a-z0-9]+)*$/);
      expect(summary.length).toBeGreaterThan(10);
    }
  });

  it('names the nearest one for a mistyped name', () => {
    expect(() => scenarioNamed('leak-orifise')).toThrow(InputError);
    expect(() => scenarioNamed('leak-orifise')).toThrow("did you mean 'leak-orifice'?");
  });

  it.each(listAll().map((s) => [s.name]))('%s is plausible and comes to what it is meant to come to', (name) => {
    for (const seed of seeds) {
      const { samples, truth, setup, bench, scenario } = runScenario(name, seed);
      expect(samples.time.length).toBeGreaterThan(50);
      let [finite, ascending, highest] = [true, true, 0];
      for (let i = 0; i < samples.time.length; i++) {
        finite &&= Number.isFinite(samples.pressure[i]);
        ascending &&= i === 0 || (samples.time[i] ?? 0) > (samples.time[i - 1] ?? 0);
        highest = Math.max(highest, samples.pressure[i] ?? 0);
      }
      expect({ name, seed, finite, ascending }).toEqual({ name, seed, finite: true, ascending: true });
      expect(highest).toBeLessThanOrEqual(setup.transducer.range * setup.transducer.unitFactor * 1.0001);
      expect(bench.calm.every((p) => p >= 0 && p < 3000)).toBe(true);
      for (const c of truth.cycles) {
        const order = [c.rising, c.reached, c.settled, c.holdEnd, c.vented].filter((t) => t !== null);
        expect(order).toEqual([...order].sort((a, b) => a - b));
        if (c.holdMinimum !== null && c.holdStartPressure !== null) expect(c.holdMinimum).toBeLessThanOrEqual(c.holdStartPressure);
        expect(c.strokeTimes.length).toBe(c.strokes);
      }
      const end = samples.time.at(-1) ?? 0;
      for (const e of truth.events) expect(e.at >= 0 && e.at <= end + 1).toBe(true);
      expect(truth.acceptable).toContain(truth.verdict);
      expect(truth.decidable).toBe(truth.acceptable.length === 1);
      expect(truth.verdictReason === null).toBe(truth.verdict === 'pass');
      const { verdict, verdictReason: rule } = truth;
      expect({ name, seed, verdict, rule }).toEqual({ name, seed, ...(scenario.intends ?? { verdict, rule }) });
    }
  });

  it('straddling families give doubtful runs, plain ones do not', () => {
    const doubtful = (name: string) => Array.from({ length: 8 }, (_, i) => runScenario(name, i + 1).truth.decidable).filter((d) => !d).length;
    expect(doubtful('leak-near-limit')).toBe(8);
    expect(doubtful('spike-too-short-to-see')).toBe(8);
    expect(doubtful('pass-plain')).toBe(0);
    expect(doubtful('burst-in-hold')).toBe(0);
  });
});

describe('playlists', () => {
  it('are all under one plan, bar the three cycles', () => {
    for (const s of demoPlaylist) expect(runScenario(s.name, 1).setup.plan).toEqual(demoPlan);
    for (const s of testPlaylist.filter((t) => t.name !== 'live-three-cycles')) expect(runScenario(s.name, 1).setup.plan).toEqual(testPlan);
  });

  it('are decidable and come to what they are meant to', () => {
    for (const s of [...demoPlaylist, ...testPlaylist]) {
      const { truth } = runScenario(s.name, 1);
      expect({ name: s.name, decidable: truth.decidable, verdict: truth.verdict, rule: truth.verdictReason }).toEqual({ name: s.name, decidable: true, ...s.intends });
    }
  });

  it('keep the runs short: a demo run about a minute, a test run under twenty seconds (three cycles under forty)', () => {
    const length = (name: string) => runScenario(name, 1).samples.time.at(-1) ?? 0;
    for (const s of demoPlaylist) expect(length(s.name)).toBeLessThan(70);
    for (const s of testPlaylist) expect(length(s.name)).toBeLessThan(s.name === 'live-three-cycles' ? 40 : 20);
  });
});
