/** What a settling too slow to be seen does to the leak: Monte Carlo with fixed seeds over laws that are no sum of two exponentials. */
import { describe, expect, it } from 'vitest';
import type { DecayFit } from '../../../src/core/fit/decay.js';
import { fitDecayAdaptive } from '../../../src/core/fit/decay-adaptive.js';
import { type Answer, SlopeAnswers } from '../../../src/core/fit/slope-answers.js';
import { plainHold, randomNumbers, recorded } from './simulated-hold.js';

type Uniform = (from: number, to: number) => number;
type Law = (between: Uniform) => (t: number) => number;

const laws: Readonly<Record<string, Law>> = {
  'two exponentials': (between) => {
    const [quick, slow] = [between(3, 9), between(15, 35)];
    return (t) => 3 * Math.exp(-t / quick) + 2 * Math.exp(-t / slow);
  },
  // Stretched exponential (Kohlrausch 1854), the usual law of relaxing polymers; an exponent of 0.5 to 0.8 is common practice.
  'a stretched exponential': (between) => {
    const tau = between(3, 25);
    return (t) => 6 * Math.exp(-((t / tau) ** 0.7));
  },
  // Creep that goes with the logarithm of time (Phillips, Philosophical Magazine 9 (1905) 513, on rubber, glass and metal wires; from memory).
  'a logarithmic creep': (between) => {
    const [eFold, t0] = [between(0.1, 1.5), between(1, 4)];
    return (t) => -eFold * Math.log(1 + t / t0);
  },
  'a creep beside a settling': (between) => {
    const [eFold, t0, tau] = [between(0.2, 0.7), between(1, 4), between(3, 20)];
    return (t) => 2 * Math.exp(-t / tau) - eFold * Math.log(1 + t / t0);
  },
};

function fits(law: Law, runs: number, seed: number): { leak: number; fit: DecayFit }[] {
  const { normal, uniform } = randomNumbers(seed);
  const between: Uniform = (from, to) => from + (to - from) * uniform();
  return Array.from({ length: runs }, () => {
    const more = law(between);
    const leak = between(0, 3);
    const hold = { ...plainHold, sigma: 10 ** between(-2, -0.8), c: 0, tau: 1, length: between(50, 110), rate: 50, leak, more };
    const fit = fitDecayAdaptive(recorded(hold, normal, 300));
    if (fit === null) throw new Error('no fit');
    return { leak, fit };
  });
}

const share = <T>(all: readonly T[], is: (one: T) => boolean): number => all.filter(is).length / all.length;

describe('where more than one settling was seen', () => {
  // 100 runs leave 3 % of doubt about a coverage. Intervals of the noise alone hold the leak in 76, 43 and 25 of 100 runs of the first three.
  it.each([['two exponentials', 0.88], ['a stretched exponential', 0.82], ['a logarithmic creep', 0.82], ['a creep beside a settling', 0.75]] as const)('%s: the interval holds the leak, mostly by reaching lower', (name, least) => {
    const found = fits(laws[name] as Law, 100, 31);
    expect(share(found, ({ leak, fit }) => leak >= fit.lowest && leak <= fit.highest)).toBeGreaterThan(least);
    expect(share(found, ({ leak, fit }) => Math.abs(leak - fit.leakRate) <= fit.halfWidth)).toBeGreaterThan(least);
    expect(share(found, ({ fit }) => fit.hidden > 0)).toBeGreaterThan(0.6);
    const reach = (side: (fit: DecayFit) => number) => found.reduce((sum, { fit }) => sum + side(fit), 0);
    expect(reach((fit) => fit.leakRate - fit.lowest)).toBeGreaterThan(1.3 * reach((fit) => fit.highest - fit.leakRate));
  });

  it('a large leak is still told from it, and none is made up', () => {
    const large = fits(laws['two exponentials'] as Law, 40, 32).filter(({ leak }) => leak > 2);
    expect(share(large, ({ fit }) => fit.lowest > 0)).toBeGreaterThan(0.9);
    const { normal, uniform } = randomNumbers(33);
    const tight = Array.from({ length: 40 }, () => {
      const more = (laws['two exponentials'] as Law)((from, to) => from + (to - from) * uniform());
      return fitDecayAdaptive(recorded({ ...plainHold, sigma: 0.03, c: 0, leak: 0, length: 80, rate: 50, more }, normal, 300));
    });
    expect(share(tight, (fit) => fit !== null && fit.lowest > 0)).toBeLessThan(0.1);
  });
});

it('one exponential leaves the interval as it was: even, and of noise alone', () => {
  const alone = fits((between) => {
    const tau = between(5, 20);
    return (t) => 5 * Math.exp(-t / tau);
  }, 60, 34);
  const untouched = alone.filter(({ fit }) => fit.hidden === 0);
  expect(untouched.length).toBeGreaterThanOrEqual(54);
  for (const { fit } of untouched) {
    expect(fit.highest - fit.leakRate).toBeCloseTo(fit.halfWidth, 12);
    expect(fit.leakRate - fit.lowest).toBeCloseTo(fit.halfWidth, 12);
  }
});

describe('a creep that goes with the logarithm of time', () => {
  it('is no leak, and hides none that is twice as fast as it', () => {
    const { normal } = randomNumbers(35);
    const at = (leak: number) => {
      const hold = { ...plainHold, sigma: 0.05, c: 0, tau: 1, length: 70, rate: 50, leak, more: (t: number) => -0.4 * Math.log(1 + t / 2) };
      const fit = fitDecayAdaptive(recorded(hold, normal, 300));
      if (fit === null) throw new Error('no fit');
      return fit;
    };
    const sound = Array.from({ length: 20 }, () => at(0));
    // After 70 s it still loses 0.33 bar/min, which one exponential calls a leak.
    expect(share(sound, ({ leakRate }) => leakRate > 0.1)).toBeGreaterThan(0.8);
    expect(share(sound, ({ lowest }) => lowest > 0)).toBeLessThanOrEqual(0.1);
    const leaking = Array.from({ length: 20 }, () => at(2));
    expect(share(leaking, ({ lowest }) => lowest > 0.5)).toBeGreaterThan(0.9);
  });
});

describe('answers put together', () => {
  const normal = (mean: number, deviation: number, weight = 1): Answer => ({ mean, deviation, logWeight: Math.log(weight) });

  it('of one course are its own: the 2.5 % points of the normal distribution (NIST/SEMATECH e-Handbook, 1.3.6.7.1)', () => {
    const one = new SlopeAnswers([normal(3, 2)]);
    expect(one.quantile(0.975)).toBeCloseTo(3 + 2 * 1.96, 3);
    expect(one.quantile(0.025)).toBeCloseTo(3 - 2 * 1.96, 3);
    expect(one.reachAround(3, 0.95)).toBeCloseTo(2 * 1.96, 3);
  });

  it('of two courses far apart are shared by their odds', () => {
    const two = new SlopeAnswers([normal(0, 1, 3), normal(100, 1, 1)]);
    expect([...two.weights].map((weight) => Number(weight.toFixed(9)))).toEqual([0.75, 0.25]);
    // A third of the first course's probability, 0.5 of all, lies above its point of 2/3: z = 0.4307 (same table, interpolated).
    expect(two.quantile(0.5)).toBeCloseTo(0.4307, 3);
    expect(two.quantile(0.875)).toBeCloseTo(100, 3);
  });
});
