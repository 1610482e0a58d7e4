import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { thin, thinnedPoints, thinnedRoom } from '../../src/sinks/live-thinning.js';

function thinned(time: number[], pressure: number[], columns: number, gap = 1): [number, number][] {
  const out = thinnedPoints(columns);
  const picture = { from: time[0] ?? 0, to: time.at(-1) ?? 1, columns, gap };
  const count = thin(Float64Array.from(time), Float64Array.from(pressure), 0, time.length, picture, out);
  return Array.from({ length: count }, (_, i) => [out.time[i] ?? Number.NaN, out.pressure[i] ?? Number.NaN]);
}
const range = (n: number): number[] => Array.from({ length: n }, (_, i) => i);
const anyTrace = fc.array(
  fc.record({ step: fc.oneof(fc.double({ min: 0.001, max: 0.5, noNaN: true }), fc.constant(3)), p: fc.oneof(fc.integer({ min: 0, max: 700 }), fc.constant(Number.NaN)) }),
  { minLength: 2, maxLength: 400 },
).map((steps) => {
  let t = 0;
  return { time: steps.map(({ step }) => (t += step)), pressure: steps.map(({ p }) => p) };
});
const good = (points: [number, number][]) => points.filter(([, p]) => !Number.isNaN(p));

describe('thinning', () => {
  it('FC-33: one sample of 412.7 among 6000 of 350.0 is the highest drawn value at 600 columns', () => {
    const pressure = range(6000).map((i) => (i === 3123 ? 412.7 : 350));
    const drawn = thinned(range(6000).map((i) => i / 10), pressure, 600);
    expect(Math.max(...drawn.map(([, p]) => p))).toBe(412.7);
    expect(drawn.find(([, p]) => p === 412.7)?.[0]).toBe(312.3);
    expect(drawn.length).toBeLessThanOrEqual(2400);
  });

  it('FC-35: nothing joins 9 s to 40 s, and a missing sample is neither a point nor a dip', () => {
    const drawn = thinned([...range(10), 40, 41, 42], [...range(10).map(() => 350), 349, Number.NaN, 349], 1000, 1.5);
    const at9 = drawn.findIndex(([t]) => t === 9);
    expect(drawn[at9 + 1]?.[1]).toBeNaN();
    expect(drawn.slice(at9 + 2).map(([, p]) => p)).toEqual([349, Number.NaN, 349]);
    expect(good(drawn).map(([, p]) => p)).not.toContain(0);
    expect(good(drawn).map(([t]) => t)).not.toContain(41);
  });

  it('keeps the first, last, lowest and highest good sample of the whole at any width', () => {
    fc.assert(fc.property(anyTrace, fc.integer({ min: 1, max: 50 }), ({ time, pressure }, columns) => {
      const kept = good(thinned(time, pressure, columns));
      const all = good(time.map((t, i) => [t, pressure[i] ?? Number.NaN]));
      expect(kept[0]).toEqual(all[0]);
      expect(kept.at(-1)).toEqual(all.at(-1));
      expect(Math.max(...kept.map(([, p]) => p))).toBe(Math.max(...all.map(([, p]) => p)));
      expect(Math.min(...kept.map(([, p]) => p))).toBe(Math.min(...all.map(([, p]) => p)));
    }));
  });

  it('only ever shows samples that were there, in order, and never more than its room', () => {
    fc.assert(fc.property(anyTrace, fc.integer({ min: 1, max: 50 }), ({ time, pressure }, columns) => {
      const drawn = thinned(time, pressure, columns);
      const known = new Set(time.map((t, i) => `${t} ${pressure[i]}`));
      expect(good(drawn).every(([t, p]) => known.has(`${t} ${p}`))).toBe(true);
      expect(drawn.every(([t], i) => i === 0 || t >= (drawn[i - 1]?.[0] ?? 0))).toBe(true);
      expect(drawn.length).toBeLessThanOrEqual(thinnedRoom(columns));
    }));
  });

  it('never joins two samples across a break that is wider than a column', () => {
    fc.assert(fc.property(anyTrace, ({ time, pressure }) => {
      const columns = 2000;
      const wide = ((time.at(-1) ?? 1) - (time[0] ?? 0)) / columns;
      const drawn = thinned(time, pressure, columns);
      drawn.forEach(([t, p], i) => {
        const [earlier, q] = drawn[i - 1] ?? [t, Number.NaN];
        if (Number.isNaN(p) || Number.isNaN(q) || t - earlier <= 2 * wide) return;
        const between = time.flatMap((u, j) => (u >= earlier && u <= t ? [j] : []));
        expect(between.some((j) => Number.isNaN(pressure[j] ?? 0)) || t - earlier > 1).toBe(false);
      });
    }));
  });
});
