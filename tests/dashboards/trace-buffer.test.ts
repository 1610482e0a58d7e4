import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { TraceBuffer } from '../../dashboards/shared/trace-buffer.js';

const batch = (first: number, ...samples: (readonly [number, number, number?])[]) => ({
  first,
  time: Float64Array.from(samples, ([t]) => t),
  pressure: Float64Array.from(samples, ([, p]) => p),
  flags: Uint8Array.from(samples, ([, , f]) => f ?? 0),
});
const held = (b: TraceBuffer) => Array.from({ length: b.length }, (_, i) => [b.time[b.start + i], b.pressure[b.start + i]]);

describe('the samples of the page', () => {
  it('leaves out what it has already, so that an overlap after a reconnect draws nothing twice', () => {
    const b = new TraceBuffer();
    b.add(batch(0, [0, 1], [1, 2], [2, 3]), 5);
    b.add(batch(1, [1, 2], [2, 3], [3, 4]), 5);
    b.add(batch(0, [0, 1]), 5);
    expect(held(b)).toEqual([[0, 1], [1, 2], [2, 3], [3, 4]]);
    expect(b.newest).toBe(3);
  });

  it('keeps the newest, in order, whatever the sizes of the batches', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 50 }), fc.array(fc.integer({ min: 1, max: 30 }), { maxLength: 60 }), (capacity, sizes) => {
        const b = new TraceBuffer(capacity);
        let n = 0;
        for (const size of sizes) {
          b.add(batch(n, ...Array.from({ length: size }, (_, i) => [n + i, 10 * (n + i)] as const)), 5);
          n += size;
        }
        const kept = Math.min(n, capacity);
        expect(held(b)).toEqual(Array.from({ length: kept }, (_, i) => [n - kept + i, 10 * (n - kept + i)]));
      }),
    );
  });

  it('grows past its first room and moves on past its capacity without losing order', () => {
    const b = new TraceBuffer(50_000);
    for (let n = 0; n < 200_000; n += 1000) b.add(batch(n, ...Array.from({ length: 1000 }, (_, i) => [n + i, n + i] as const)), 5);
    expect([b.length, b.oldestTime, b.newestTime]).toEqual([50_000, 150_000, 199_999]);
    expect(b.time[b.indexAt(175_000.5)]).toBe(175_001);
  });

  it('FC-35: takes a missing or flagged sample as missing, never as 0, and tells the stretch without data', () => {
    const b = new TraceBuffer();
    b.add(batch(0, ...Array.from({ length: 10 }, (_, i) => [i, 350] as const), [40, 349], [41, Number.NaN], [42, 349], [43, 0, 2], [44, 349]), 1.5);
    expect(held(b).slice(10).map(([, p]) => p)).toEqual([349, Number.NaN, 349, Number.NaN, 349]);
    expect(b.gaps).toEqual([{ from: 9, to: 40 }, { from: 40, to: 42 }, { from: 42, to: 44 }]);
  });

  it('finds the nearest good sample, and none where there is none near', () => {
    const b = new TraceBuffer();
    b.add(batch(0, [0, 1], [1, Number.NaN], [1.2, 3]), 5);
    expect(b.nearest(0.9, 0.5)).toBe(2);
    expect(b.nearest(0.3, 0.5)).toBe(0);
    expect(b.nearest(9, 1)).toBe(-1);
    expect(new TraceBuffer().nearest(0, 9)).toBe(-1);
  });

  it('forgets everything when another session begins', () => {
    const b = new TraceBuffer();
    b.add(batch(500, [0, 1], [9, 1]), 1);
    b.clear();
    expect([b.length, b.newest, b.gaps.length]).toEqual([0, null, 0]);
    b.add(batch(0, [0, 2]), 1);
    expect(held(b)).toEqual([[0, 2]]);
  });
});
