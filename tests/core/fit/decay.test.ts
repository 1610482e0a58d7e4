import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Bins } from '../../../src/core/fit/bins.js';
import { type DecayFit, type DecayOptions, fitDecay } from '../../../src/core/fit/decay.js';
import { plainHold, randomNumbers, recorded } from './simulated-hold.js';

function fitted(bins: Bins, options?: DecayOptions): DecayFit {
  const fit = fitDecay(bins, options);
  if (fit === null) throw new Error('no fit');
  return fit;
}

const exact = (n: number, span: number, p: (t: number) => number): { time: number[]; pressure: number[] } => {
  const time = Array.from({ length: n }, (_, i) => (span * i) / (n - 1));
  return { time, pressure: time.map(p) };
};
const moved = (bins: Bins, change: (time: number, pressure: number) => readonly [number, number]): Bins => {
  const pairs = Array.from(bins.time, (t, i) => change(t, bins.pressure[i] ?? NaN));
  return { time: pairs.map(([t]) => t), pressure: pairs.map(([, p]) => p), ...(bins.weight ? { weight: bins.weight } : {}) };
};
const hold = (seed: number, change: Partial<typeof plainHold> = {}) =>
  recorded({ ...plainHold, ...change }, randomNumbers(seed).normal, 150);

describe('fitDecay on a course without noise', () => {
  it.each([
    ['settling and a leak', 0.02, 5, 8],
    ['settling alone', 0, 20, 15],
    ['a leak and a rise that dies away', 0.05, -3, 10],
    ['quick settling', 0.01, 10, 1.5],
  ])('%s comes back', (_name, b, c, tau) => {
    const fit = fitted(exact(400, 60, (t) => 550 - b * t + c * Math.exp(-t / tau)));
    expect(fit.leakRate).toBeCloseTo(60 * b, 4);
    expect(fit.settling).toBeCloseTo(c, 4);
    expect(fit.timeConstant).toBeCloseTo(tau, 3);
    expect(fit.level).toBeCloseTo(550, 4);
    expect(fit.settlingSeen).toBe(true);
    expect(fit.rss).toBeLessThan(1e-6);
  });

  it('does not ask for even spacing: a gap and thinning change nothing', () => {
    const all = exact(600, 60, (t) => 550 - 0.02 * t + 5 * Math.exp(-t / 8));
    const keep = Array.from(all.time, (_, i) => i).filter((i) => (i < 200 || i > 330) && (i < 400 || i % 3 === 0));
    const fit = fitted({ time: keep.map((i) => all.time[i] ?? NaN), pressure: keep.map((i) => all.pressure[i] ?? NaN) });
    expect(fit.n).toBe(keep.length);
    expect(fit.leakRate).toBeCloseTo(1.2, 4);
    expect(fit.timeConstant).toBeCloseTo(8, 3);
  });
});

describe('fitDecay on input that tells little', () => {
  it('gives nothing for fewer than 8 usable bins', () => {
    const bins = exact(12, 60, () => 550);
    expect(fitDecay(exact(7, 60, () => 550))).toBeNull();
    expect(fitDecay({ time: bins.time, pressure: Array.from(bins.pressure, (p, i) => (i < 5 ? NaN : p)) })).toBeNull();
    expect(fitDecay({ time: Array.from(bins.time, () => 3), pressure: bins.pressure })).toBeNull();
    expect(fitDecay({ ...bins, weight: Array.from(bins.time, (_, i) => (i < 7 ? 1 : 0)) })).toBeNull();
    expect(fitDecay({ time: [], pressure: [] })).toBeNull();
  });

  it('leaves out what is no number, has no weight or does not move on in time', () => {
    const { time, pressure } = exact(60, 60, (t) => 550 - 0.01 * t);
    const fit = fitted({
      time: [...time, 60, 59, 61, 62, 63],
      pressure: [...pressure, 100, 100, NaN, 100, Infinity],
      weight: [...time.map(() => 4), 4, 4, 4, 0, 4],
    });
    expect(fit.n).toBe(60);
    expect(fit.leakRate).toBeCloseTo(0.6, 6);
  });

  it('a reading that never moves is no leak, and known only to a step of the reading', () => {
    const still = exact(200, 60, () => 550);
    expect(fitted(still).leakRate).toBeCloseTo(0, 9);
    expect(fitted(still).settlingSeen).toBe(false);
    const rounded = fitted(still, { resolution: 0.1 });
    expect(rounded.halfWidth).toBeGreaterThan(0.05);
    expect(rounded.halfWidth).toBeLessThan(0.4);
  });

  it('a straight line has no settling', () => {
    const fit = fitted(hold(5, { c: 0, leak: 3 }));
    expect(fit.settlingSeen).toBe(false);
    expect(fit.settling).toBe(0);
    expect(Math.abs(fit.leakRate - 3)).toBeLessThan(3 * fit.standardError);
  });

  it('says how little it knows where the settling outlasts the window', () => {
    const known = fitted(hold(6, { c: 10, tau: 5, length: 20 }));
    const unknown = fitted(hold(6, { c: 10, tau: 60, length: 20 }));
    expect(unknown.halfWidth).toBeGreaterThan(10 * known.halfWidth);
    expect(Math.abs(unknown.leakRate - 1)).toBeLessThan(unknown.halfWidth);
  });
});

describe('fitDecay and wild bins', () => {
  it.each([[20], [-40], [300]])('two bins that are %f bar off change nothing that matters', (height) => {
    const clean = hold(11);
    const wild = moved(clean, (t, p) => [t, t > 20 && t < 20.4 ? p + height : t > 50 && t < 50.4 ? p - height : p]);
    const [a, b] = [fitted(clean), fitted(wild)];
    expect(b.wild).toBeGreaterThan(0);
    expect(a.wild).toBe(0);
    expect(Math.abs(a.leakRate - b.leakRate)).toBeLessThan(0.5 * a.standardError);
    expect(b.standardError / a.standardError).toBeLessThan(1.2);
  });

  it('a loss that lasts is not thrown out as wild', () => {
    const fit = fitted(hold(12, { c: 0, leak: 0, more: (t) => -2 * Math.max(0, t - 56) }));
    expect(fit.wild).toBe(0);
  });
});

describe('fitDecay does not care', () => {
  const near = (a: number, b: number, digits = 5) => expect(Math.abs(a - b)).toBeLessThan(10 ** -digits * (1 + Math.abs(b)));
  const some = { numRuns: 12 };

  it('when the recording began', () => {
    fc.assert(
      fc.property(fc.nat(1000), fc.integer({ min: -1e6, max: 1e6 }), (seed, late) => {
        const [a, b] = [fitted(hold(seed)), fitted(moved(hold(seed), (t, p) => [t + late, p]))];
        near(b.leakRate, a.leakRate);
        near(b.standardError, a.standardError);
        near(b.timeConstant, a.timeConstant, 4);
        expect(b.origin - a.origin).toBeCloseTo(late, 6);
      }),
      some,
    );
  });

  it('at which pressure it was', () => {
    fc.assert(
      fc.property(fc.nat(1000), fc.integer({ min: -500, max: 3000 }), (seed, more) => {
        const [a, b] = [fitted(hold(seed)), fitted(moved(hold(seed), (t, p) => [t, p + more]))];
        near(b.leakRate, a.leakRate);
        near(b.standardError, a.standardError);
        expect(b.level - a.level).toBeCloseTo(more, 4);
      }),
      some,
    );
  });

  it('in which unit the pressure is', () => {
    fc.assert(
      fc.property(fc.nat(1000), fc.constantFrom(0.1, 14.5, 100), (seed, factor) => {
        const [a, b] = [fitted(hold(seed)), fitted(moved(hold(seed), (t, p) => [t, p * factor]))];
        near(b.leakRate / factor, a.leakRate);
        near(b.standardError / factor, a.standardError);
        near(b.settling / factor, a.settling, 4);
      }),
      some,
    );
  });

  it('at which speed time runs, as long as the bounds of tau run with it', () => {
    const [a, b] = [
      fitted(hold(3), { tauMin: 1, tauMax: 120 }),
      fitted(moved(hold(3), (t, p) => [t * 7, p]), { tauMin: 7, tauMax: 840 }),
    ];
    near(b.leakRate * 7, a.leakRate);
    near(b.standardError * 7, a.standardError);
    near(b.timeConstant / 7, a.timeConstant, 4);
  });
});
