/**
 * The bound on the error of a leak rate: Cramer, Mathematical Methods of Statistics (1946), 32.3; Rao, Bulletin of the
 * Calcutta Mathematical Society 37 (1945) 81. Here it is worked out once more by another way: the Fisher information with
 * the covariance matrix of the noise written out and inverted by elimination.
 */
import { describe, expect, it } from 'vitest';
import { fitDecay } from '../../src/core/fit/decay.js';
import { averaged, holdFor, leakError, smallestLeak, type HoldConditions } from '../../src/tuning/capability.js';
import { capabilityReport, usualConditions } from '../../src/tuning/capability-report.js';
import { holdSeen } from '../../src/tuning/hold-seen.js';
import { RunReader } from '../../src/core/run-reader.js';
import { feed } from '../../src/core/judge.js';
import type { CycleRecord } from '../../src/core/reading/cycle-record.js';
import { runScenario } from '../../simulators/run-scenario.js';
import { plainHold, randomNumbers, recorded } from '../core/fit/simulated-hold.js';

/** Inverse of a square matrix by Gauss and Jordan. */
function inverse(matrix: readonly (readonly number[])[]): number[][] {
  const n = matrix.length;
  const rows = matrix.map((row, i) => [...row, ...Array.from({ length: n }, (_, j) => (i === j ? 1 : 0))]);
  for (let i = 0; i < n; i++) {
    const pivot = rows.slice(i).reduce((best, row, k) => (Math.abs(row[i] ?? 0) > Math.abs(rows[best]?.[i] ?? 0) ? i + k : best), i);
    [rows[i], rows[pivot]] = [rows[pivot] ?? [], rows[i] ?? []];
    const lead = rows[i]?.[i] ?? NaN;
    rows[i] = (rows[i] ?? []).map((value) => value / lead);
    for (let k = 0; k < n; k++) {
      const factor = k === i ? 0 : (rows[k]?.[i] ?? 0);
      if (factor !== 0) rows[k] = (rows[k] ?? []).map((value, j) => value - factor * (rows[i]?.[j] ?? 0));
    }
  }
  return rows.map((row) => row.slice(n));
}

/** bar/min: root of the b element of (J' K^-1 J)^-1, J of a + b t + c exp(-t/tau) by a, b, c and tau. */
function boundWrittenOut(times: readonly number[], { sigma, rho, settling: c, timeConstant: tau }: HoldConditions): number {
  const jacobian = times.map((t) => [1, t, Math.exp(-t / tau), ((c * t) / tau ** 2) * Math.exp(-t / tau)]);
  const precision = inverse(times.map((_, i) => times.map((_, j) => sigma ** 2 * rho ** Math.abs(i - j))));
  const information = [0, 1, 2, 3].map((a) => [0, 1, 2, 3].map((b) =>
    jacobian.reduce((sum, row, i) => sum + jacobian.reduce((inner, other, j) => inner + (row[a] ?? 0) * (precision[i]?.[j] ?? 0) * (other[b] ?? 0), 0), 0)));
  return 60 * Math.sqrt(inverse(information)[1]?.[1] ?? NaN);
}

const usual: HoldConditions = { sigma: 0.1, rho: 0, rate: 2, settling: 5, timeConstant: 8 };

describe('the error of a leak after a hold', () => {
  it.each([
    [60, usual],
    [30, { ...usual, rho: 0.5 }],
    [60, { ...usual, rho: 0.9, timeConstant: 12 }],
    [40, { ...usual, sigma: 0.02, settling: 30, timeConstant: 5, rho: 0.2 }],
  ])('%d s: is the bound written out by matrices', (hold, conditions) => {
    const times = Array.from({ length: hold * conditions.rate }, (_, i) => i / conditions.rate);
    expect(leakError(hold, conditions)).toBeCloseTo(boundWrittenOut(times, conditions), 6);
  });

  it('is that of a straight line where nothing settles any more', () => {
    // sigma / sqrt(sum (t - mean)^2): the settling takes up no more than the first two readings.
    const n = 120;
    const times = Array.from({ length: n }, (_, i) => i / 2).slice(2);
    const mean = times.reduce((sum, t) => sum + t, 0) / times.length;
    const line = (60 * 0.1) / Math.sqrt(times.reduce((sum, t) => sum + (t - mean) ** 2, 0));
    expect(leakError(60, { ...usual, timeConstant: 0.05 })).toBeCloseTo(line, 3);
  });

  it('hardly changes when readings are gathered into averages, and then to the safe side', () => {
    // Averages of AR(1) noise are not quite AR(1) themselves.
    for (const rho of [0, 0.5, 0.9]) {
      const fine = { ...usual, rate: 24, rho };
      const average = averaged(fine.sigma, rho, 12);
      expect(leakError(60, { ...usual, rate: 2, ...average }) / leakError(60, fine)).toBeGreaterThan(0.95);
      expect(leakError(60, { ...usual, rate: 2, ...average }) / leakError(60, fine)).toBeLessThan(1.12);
    }
  });

  it('shrinks with the hold and grows with noise, correlation and slower settling', () => {
    expect(leakError(120, usual)).toBeLessThan(0.5 * leakError(60, usual));
    expect(leakError(60, { ...usual, sigma: 0.3 })).toBeCloseTo(3 * leakError(60, usual), 9);
    expect(leakError(60, { ...usual, rho: 0.6 })).toBeGreaterThan(1.5 * leakError(60, usual));
    expect(leakError(60, { ...usual, timeConstant: 20 })).toBeGreaterThan(leakError(60, usual));
  });
});

describe('by simulation', () => {
  it('a leak of the smallest size is told in 95 % of holds, and a tight assembly seems to leak in 2.5 %', () => {
    const hold = { ...plainHold, rate: 10 };
    const conditions: HoldConditions = { sigma: hold.sigma, rho: 0, rate: hold.rate, settling: hold.c, timeConstant: hold.tau };
    const told = (leak: number, seed: number) => {
      const { normal } = randomNumbers(seed);
      const fits = Array.from({ length: 250 }, () => fitDecay(recorded({ ...hold, leak }, normal, 100)));
      return fits.filter((fit) => fit !== null && fit.leakRate - 1.96 * fit.standardError > 0).length / fits.length;
    };
    // 250 holds leave 2.8 % of doubt about 95 %, and a real fit is a little worse than the bound.
    const smallest = smallestLeak(hold.length, conditions);
    expect(told(smallest, 11)).toBeGreaterThan(0.86);
    expect(told(0.5 * smallest, 12)).toBeLessThan(0.7);
    expect(told(0, 13)).toBeLessThan(0.055);
  });
});

describe('how long a hold must be', () => {
  it('is where the smallest leak comes down to the limit', () => {
    for (const limit of [0.2, 1, 3]) expect(smallestLeak(holdFor(limit, usual) ?? NaN, usual) / limit).toBeCloseTo(1, 1);
    expect(holdFor(1e-9, usual)).toBeNull();
    expect(holdFor(0, usual)).toBeNull();
  });
});

describe('measured from recorded holds', () => {
  const seenIn = (name: string, seed: number) => {
    const { samples, plan, thresholds, setup } = runScenario(name, seed);
    const cycles: CycleRecord[] = [];
    const reader = new RunReader({ plan, thresholds, instrument: setup.instrument }, { runStarted: () => undefined, found: () => undefined, runEnded: () => undefined, cyclesRead: (found) => cycles.push(...found) });
    feed(reader, samples);
    reader.end();
    return { seen: cycles.flatMap((cycle) => holdSeen(cycle) ?? []), setup };
  };

  it('the noise is that of the simulated transducer', () => {
    for (const seed of [1, 2, 3]) {
      const { seen: [hold], setup: { transducer: { noise, wander, rate } } } = seenIn('pass-plain', seed);
      if (hold === undefined) throw new Error('no hold');
      const perAverage = noise / Math.sqrt(Math.max(1, rate / hold.conditions.rate));
      expect(hold.conditions.sigma).toBeGreaterThan(0.7 * perAverage);
      expect(hold.conditions.sigma).toBeLessThan(1.4 * Math.hypot(perAverage, wander) + 0.01);
      // A fit that looks for time constants between limits may be a little better than one that knows of none.
      expect(hold.overBound).toBeGreaterThan(0.6);
      expect(hold.overBound).toBeLessThan(4);
    }
  });

  it('make a report: longer holds tell smaller leaks, practice is no better than the bound', () => {
    const seen = [1, 2, 3].flatMap((seed) => seenIn('pass-plain', seed).seen);
    const conditions = usualConditions(seen);
    if (conditions === null) throw new Error('no holds');
    const report = capabilityReport(seen, conditions, { leakLimit: 1.5, hold: 60 });
    expect(report.holds).toBe(3);
    const practice = report.rows.map((row) => row.practice);
    expect(practice).toEqual(practice.toSorted((a, b) => b - a));
    for (const row of report.rows) expect(row.practice).toBeGreaterThanOrEqual(row.bound);
    expect(report.asked.hold?.practice).toBe(report.rows.find(({ hold }) => hold === 60)?.practice);
    expect(report.asked.limit?.needs).toBeGreaterThan(1);
    expect(report.assumptions.length).toBeGreaterThanOrEqual(4);
  });

  it('a run that was vented early gives no hold', () => expect(seenIn('live-vent-early', 1).seen).toEqual([]));
});
