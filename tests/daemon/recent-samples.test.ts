import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { RecentSamples } from '../../src/daemon/recent-samples.js';

const filled = (count: number, limits = { span: 1200, samples: 100_000 }, every = 0.1) => {
  const recent = new RecentSamples(limits);
  for (let i = 0; i < count; i++) recent.push(i * every, 100 + i, i % 5 === 0 ? 1 : 0);
  return recent;
};

describe('recent samples', () => {
  it('is empty at first', () => {
    const recent = new RecentSamples();
    expect(recent.newest()).toBe(-1);
    expect(recent.since(-1, 10).time).toHaveLength(0);
    expect(recent.between(0, 1e9).time).toHaveLength(0);
  });

  it('numbers samples from 0 and gives what came after a number', () => {
    const recent = filled(5000);
    expect(recent.newest()).toBe(4999);
    const batch = recent.since(4996, 100);
    expect(batch).toEqual({
      first: 4997,
      time: Float64Array.of(4997 * 0.1, 4998 * 0.1, 4999 * 0.1),
      pressure: Float64Array.of(5097, 5098, 5099),
      flags: Uint8Array.of(0, 0, 0),
    });
    expect(recent.since(4999, 100).time).toHaveLength(0);
    expect(recent.since(-1, 7).pressure).toEqual(Float64Array.of(100, 101, 102, 103, 104, 105, 106));
  });

  it('forgets by age and by number, and says so by a later first number', () => {
    const byAge = filled(5000, { span: 10, samples: 100_000 });
    expect(byAge.since(-1, 1).first).toBe(byAge.oldest());
    expect((byAge.newest() - byAge.oldest()) * 0.1).toBeGreaterThanOrEqual(9.9);
    expect((byAge.newest() - byAge.oldest()) * 0.1).toBeLessThanOrEqual(10.2);
    const byNumber = filled(5000, { span: 1e9, samples: 1500 });
    expect(byNumber.oldest()).toBe(3500);
  });

  it('always gives consecutive samples with their own values, whatever was pushed and asked', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 6000 }), fc.integer({ min: 1, max: 3000 }), fc.integer({ min: -1, max: 6000 }), fc.nat(500), (count, room, after, limit) => {
        const recent = filled(count, { span: 1e9, samples: room });
        const batch = recent.since(after, limit);
        const first = Math.max(after + 1, Math.max(0, count - room));
        expect(batch.time).toHaveLength(Math.max(0, Math.min(limit, count - first)));
        batch.pressure.forEach((pressure, i) => expect(pressure).toBe(100 + batch.first + i));
      }),
      { numRuns: 50 },
    );
  });

  it('cuts by time, both ends included', () => {
    const recent = filled(100, undefined, 1);
    expect(recent.between(10, 12).pressure).toEqual(Float64Array.of(110, 111, 112));
    expect(recent.firstAt(10.5)).toBe(11);
  });
});
