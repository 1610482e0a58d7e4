import { mean, standardDeviation } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { grid } from '../../simulators/bench.js';
import { randomFor } from '../../simulators/random.js';
import { record, type SignalFault, type TransducerSettings } from '../../simulators/transducer.js';
import { Flag } from '../../src/core/trace.js';

const ideal: TransducerSettings = {
  rate: 100, jitter: 0, lag: 0, noise: 0, wander: 0, drift: 0, gainError: 0, zeroError: 0, resolution: 0.001, range: 1000, lost: 0, unitFactor: 1,
};
const level = (bar: number, seconds: number) => new Float64Array(seconds / grid).fill(bar);
const at = (time: number) => ({ when: 'time', time }) as const;
const take = (truth: Float64Array, settings: Partial<TransducerSettings>, faults: readonly SignalFault[] = []) =>
  record(truth, { ...ideal, ...settings }, faults, (m) => (m.when === 'time' ? m.time : Number.NaN), randomFor('transducer', 1));

describe('transducer', () => {
  it('reads what is there at the times it should', () => {
    const { time, pressure, flags } = take(level(550, 10), {});
    expect(time.length).toBe(1000);
    expect(time[999]).toBe(9.99);
    expect(new Set(pressure)).toEqual(new Set([550]));
    expect(new Set(flags)).toEqual(new Set([Flag.good]));
  });

  it('has noise of the size that was asked for, white and slow', () => {
    const { pressure } = take(level(500, 400), { noise: 0.2 });
    expect(standardDeviation([...pressure])).toBeCloseTo(0.2, 2);
    const slow = [...take(level(500, 4000), { rate: 10, wander: 0.2 }).pressure];
    expect(standardDeviation(slow)).toBeGreaterThan(0.15);
    expect(standardDeviation(slow)).toBeLessThan(0.25);
    const steps = slow.slice(1).map((p, i) => p - (slow[i] ?? 0));
    expect(standardDeviation(steps)).toBeLessThan(0.15);
    expect(mean(slow)).toBeCloseTo(500, 1);
  });

  it('follows a step with its time constant: 63.2 % after one', () => {
    const truth = level(0, 2).map((_, i) => (i >= 1000 ? 100 : 0));
    const { time, pressure } = take(truth, { rate: 1000, lag: 0.05 });
    const after = time.findIndex((t) => t >= 1.049);
    expect(pressure[after]).toBeGreaterThan(61);
    expect(pressure[after]).toBeLessThan(65);
  });

  it('stops at the end of its range and says so', () => {
    const { pressure, flags, saturatedAt } = take(level(650, 1), { range: 600 });
    expect(new Set(pressure)).toEqual(new Set([600]));
    expect(new Set(flags)).toEqual(new Set([Flag.saturated]));
    expect(saturatedAt).toBe(0);
  });

  it('shows whole steps only', () => {
    const { pressure } = take(level(123.456, 1), { resolution: 0.5 });
    expect(new Set(pressure)).toEqual(new Set([123.5]));
  });

  it('keeps time ascending under jitter', () => {
    const { time } = take(level(1, 20), { jitter: 0.3, rate: 1000 });
    for (let i = 1; i < time.length; i++) expect(time[i]).toBeGreaterThan(time[i - 1] ?? 0);
  });

  it('loses about the share of samples that was asked for', () => {
    const { time } = take(level(1, 100), { lost: 0.1 });
    expect(time.length / 10_000).toBeCloseTo(0.9, 1);
    expect(time.length).toBeLessThan(9500);
  });

  it('puts a glitch on exactly so many samples, and tells where', () => {
    const { pressure, faults } = take(level(500, 10), {}, [{ kind: 'glitch', start: at(5), height: -100, samples: 3 }]);
    expect([...pressure].filter((p) => p !== 500)).toEqual([415, 400, 415]);
    expect(faults).toEqual([{ kind: 'glitch', at: 5.01, height: -100, width: 0.02 }]);
  });

  it('has a gap, a frozen stretch, a shut valve, a moved zero and a loop fault where they were put', () => {
    const ramp = level(0, 20).map((_, i) => i * grid * 10);
    const gap = take(ramp, {}, [{ kind: 'gap', start: at(5), duration: 2 }]).time;
    expect([...gap].some((t) => t >= 5 && t < 6.999)).toBe(false);
    expect(gap.length).toBe(1800);
    const frozen = take(ramp, {}, [{ kind: 'frozen', start: at(5), duration: 3 }]);
    expect(new Set(frozen.pressure.slice(500, 800)).size).toBe(1);
    expect(frozen.pressure[801]).toBeCloseTo(80.1, 2);
    const shut = take(ramp, { noise: 0.5 }, [{ kind: 'shut-valve', start: at(5), duration: Number.POSITIVE_INFINITY, fall: 0 }]);
    expect(new Set(shut.pressure.slice(501))).toEqual(new Set([50]));
    const moved = take(level(0, 10), {}, [{ kind: 'zero-shift', start: at(4), size: 3 }]);
    expect([moved.pressure[399], moved.pressure[401]]).toEqual([0, 3]);
    const loop = take(level(500, 10), {}, [{ kind: 'loop-fault', start: at(4), duration: 1, reading: -50 }]);
    expect([loop.pressure[450], loop.flags[450], loop.flags[550]]).toEqual([-50, Flag.fault, Flag.good]);
  });

  it('shows another unit when told to', () => expect(take(level(550, 1), { unitFactor: 0.1, resolution: 0.1 }).pressure[0]).toBe(55));
});
