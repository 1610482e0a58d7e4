import { mean, standardDeviation } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { randomFor } from '../../simulators/random.js';

const many = (n: number, next: () => number) => Array.from({ length: n }, next);

describe('random', () => {
  it('repeats itself for the same name and seed, and only then', () => {
    const draw = (name: string, seed: number) => many(20, randomFor(name, seed).uniform);
    expect(draw('a', 1)).toEqual(draw('a', 1));
    expect(draw('a', 1)).not.toEqual(draw('a', 2));
    expect(draw('a', 1)).not.toEqual(draw('b', 1));
  });

  it('is uniform: mean 1/2, standard deviation 1/sqrt(12), every tenth as often', () => {
    const values = many(50_000, randomFor('uniform', 7).uniform);
    expect(mean(values)).toBeCloseTo(0.5, 2);
    expect(standardDeviation(values)).toBeCloseTo(1 / Math.sqrt(12), 2);
    for (let tenth = 0; tenth < 10; tenth++) {
      const share = values.filter((v) => Math.floor(v * 10) === tenth).length / values.length;
      expect(Math.abs(share - 0.1)).toBeLessThan(0.006);
    }
  });

  it('is normal: 68.27 % within one and 95.45 % within two standard deviations', () => {
    const values = many(50_000, randomFor('normal', 3).normal);
    expect(Math.abs(mean(values))).toBeLessThan(0.02);
    expect(standardDeviation(values)).toBeCloseTo(1, 1);
    expect(values.filter((v) => Math.abs(v) < 1).length / values.length).toBeCloseTo(0.6827, 2);
    expect(values.filter((v) => Math.abs(v) < 2).length / values.length).toBeCloseTo(0.9545, 2);
  });

  it('gives a fork numbers of its own, whatever the parent drew before', () => {
    const a = randomFor('x', 1);
    const b = randomFor('x', 1);
    many(10, b.uniform);
    expect(many(5, a.fork('noise').uniform)).toEqual(many(5, b.fork('noise').uniform));
  });

  it('draws whole numbers from both ends', () => {
    const random = randomFor('whole', 1);
    expect(new Set(many(200, () => random.whole(2, 4)))).toEqual(new Set([2, 3, 4]));
  });
});
