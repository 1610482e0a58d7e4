import { describe, expect, it } from 'vitest';
import { fitDecay } from '../../../src/core/fit/decay.js';
import { fitDecayAdaptive } from '../../../src/core/fit/decay-adaptive.js';
import { plainHold, randomNumbers, recorded } from './simulated-hold.js';

describe('fitDecayAdaptive', () => {
  it('keeps the whole window where one exponential is enough', () => {
    const { normal } = randomNumbers(21);
    let whole = 0;
    for (let run = 0; run < 30; run++) {
      const bins = recorded(plainHold, normal, 150);
      if (fitDecayAdaptive(bins)?.origin === bins.time[0]) whole++;
    }
    expect(whole).toBeGreaterThanOrEqual(27);
  });

  it('leaves out a second, quick settling that would bend the slope', () => {
    const { normal } = randomNumbers(22);
    const hold = { ...plainHold, sigma: 0.05, c: 8, tau: 15, length: 120, leak: 1, more: (t: number) => 12 * Math.exp(-t / 2.5) };
    let [plainError, error, held] = [0, 0, 0];
    for (let run = 0; run < 30; run++) {
      const bins = recorded(hold, normal, 240);
      const plain = fitDecay(bins);
      const fit = fitDecayAdaptive(bins);
      if (plain === null || fit === null) throw new Error('no fit');
      expect(plain.lackOfFit.significant).toBe(true);
      expect(fit.origin).toBeGreaterThan(3);
      expect(fit.lackOfFit.significant).toBe(false);
      expect(fit.end).toBe(plain.end);
      plainError += Math.abs(plain.leakRate - 1);
      error += Math.abs(fit.leakRate - 1);
      if (Math.abs(fit.leakRate - 1) <= fit.halfWidth) held++;
    }
    expect(error).toBeLessThan(plainError / 2);
    expect(held).toBeGreaterThanOrEqual(27);
  });

  it('gives nothing where fitDecay gives nothing', () => {
    expect(fitDecayAdaptive({ time: [0, 1, 2], pressure: [5, 5, 5] })).toBeNull();
  });
});
