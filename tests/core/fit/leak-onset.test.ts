import { describe, expect, it } from 'vitest';
import { findLeakOnset } from '../../../src/core/fit/leak-onset.js';
import { type Hold, plainHold, randomNumbers, recorded } from './simulated-hold.js';

const bendAt = (at: number, barPerMinute: number) => (t: number) => (-barPerMinute / 60) * Math.max(0, t - at);

describe('findLeakOnset', () => {
  it.each([
    ['settling and a steady leak', {}],
    ['a straight line', { c: 0, leak: 4 }],
    ['much settling, little noise', { c: 30, sigma: 0.02 }],
    ['correlated noise', { rho: 0.9 }],
    ['two settlings', { more: (t: number) => 6 * Math.exp(-t / 1.5) }],
    ['two settlings, little noise', { sigma: 0.02, more: (t: number) => 6 * Math.exp(-t / 30) }],
    ['creep by the logarithm of time', { more: (t: number) => -3 * Math.log1p(t / 2) }],
  ] satisfies [string, Partial<Hold>][])('finds none in %s', (_name, change) => {
    const { normal } = randomNumbers(31);
    for (let run = 0; run < 8; run++) expect(findLeakOnset(recorded({ ...plainHold, ...change }, normal, 240))).toBeNull();
  });

  it.each([
    ['in mid-hold', 30, 5, {}],
    ['late', 45, 4, {}],
    ['early', 20, 4, {}],
    ['in a tight, settled hold', 40, 20, { c: 0, leak: 0 }],
    ['small, little noise', 30, 1, { sigma: 0.02 }],
    ['under correlated noise', 30, 10, { rho: 0.5 }],
  ] satisfies [string, number, number, Partial<Hold>][])('finds one %s', (_name, at, more, change) => {
    const { normal } = randomNumbers(32);
    const hold = { ...plainHold, ...change, more: bendAt(at, more) };
    let [timeError, timeDoubt, held] = [0, 0, 0];
    const runs = 10;
    for (let run = 0; run < runs; run++) {
      const onset = findLeakOnset(recorded(hold, normal, 240));
      if (onset === null) throw new Error('not found');
      timeError += (onset.at - at) ** 2 / runs;
      timeDoubt += onset.atUncertainty ** 2 / runs;
      if (Math.abs(onset.leakRate - hold.leak - more) <= 2.6 * onset.standardError) held++;
      expect(onset.leakRate).toBeGreaterThan(onset.leakRateBefore);
      expect(Math.abs(onset.growth - more)).toBeLessThan(4 * onset.growthError);
    }
    expect(Math.sqrt(timeError)).toBeLessThan(3);
    expect(Math.sqrt(timeError / timeDoubt)).toBeLessThan(2);
    expect(held).toBeGreaterThanOrEqual(8);
  });

  it('a bend upward is no leak', () => {
    const hold = { ...plainHold, leak: 8, more: bendAt(30, -6) };
    expect(findLeakOnset(recorded(hold, randomNumbers(33).normal, 240))).toBeNull();
  });

  it('gives nothing for fewer than 40 bins', () => {
    expect(findLeakOnset(recorded({ ...plainHold, rate: 0.5, more: bendAt(30, 50) }, randomNumbers(34).normal, 240))).toBeNull();
  });
});
