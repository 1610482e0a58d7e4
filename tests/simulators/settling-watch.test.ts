import { linearRegression } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { SettlingWatch, type SettlingLimits } from '../../simulators/settling-watch.js';

const limits: SettlingLimits = { quietTime: 10, window: 10, slope: 0.05, steady: 1e-6, timeout: 120 };
const interval = 0.1;

/** Feeds p(t) from t = 0 on; the last stroke ended at 0. */
function settledOf(p: (t: number) => number, l: SettlingLimits = limits) {
  const watch = new SettlingWatch(l, interval);
  watch.restart(0);
  for (let i = 0; i < 2000; i++) watch.step(i * interval, p(i * interval));
  return watch;
}

/** The definition done the long way: an ordinary regression over each window. */
function bySlope(p: (t: number) => number): number {
  for (let i = 100; i < 2000; i++) {
    const window = Array.from({ length: 101 }, (_, k) => [(i - 100 + k) * interval, p((i - 100 + k) * interval)] as [number, number]);
    if (Math.abs(linearRegression(window).m) < limits.slope) return i * interval;
  }
  return Number.NaN;
}

describe('settling watch', () => {
  it.each([[20, 25], [8, 40], [35, 12]])('finds the end of a decay of %f s and %f bar where an ordinary regression does', (tau, size) => {
    const decay = (t: number) => 720 - size * (1 - Math.exp(-t / tau));
    const watch = settledOf(decay);
    expect(watch.settled).toBeCloseTo(bySlope(decay), 6);
    expect(watch.by).toBe('slope');
  });

  it('waits for the quiet time even when nothing falls', () => expect(settledOf(() => 700).settled).toBeCloseTo(10, 6));

  it('takes a slope that does not change for steady', () => {
    const watch = settledOf((t) => 720 - 0.3 * t);
    expect(watch.by).toBe('steady');
    expect(watch.settled).toBeGreaterThanOrEqual(20);
    expect(watch.settled).toBeLessThan(21);
  });

  it('gives up at the time-out', () => {
    const watch = settledOf((t) => 720 - 0.2 * t - 0.002 * t * t);
    expect(watch.by).toBe('timeout');
    expect(watch.settled).toBeCloseTo(120, 6);
  });

  it('begins anew after a stroke', () => {
    const watch = new SettlingWatch(limits, interval);
    watch.restart(0);
    for (let i = 0; i < 80; i++) watch.step(i * interval, 700);
    watch.restart(8);
    for (let i = 80; i < 400; i++) watch.step(i * interval, 705);
    expect(watch.settled).toBeCloseTo(18, 6);
  });
});
