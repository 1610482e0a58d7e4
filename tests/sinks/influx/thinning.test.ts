import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { standing } from '../../../src/sinks/influx/thinning.js';

const stretch = (time: readonly number[], pressure: readonly number[], flags = time.map(() => 0)) => ({ time: Float64Array.from(time), pressure: Float64Array.from(pressure), flags: Uint8Array.from(flags) });

describe('thinning', () => {
  it('keeps first, lowest, highest and last of each interval', () => {
    const kept = standing(stretch([0, 1, 2, 3, 4, 5, 10, 11], [5, 5, 9, 2, 5, 5, 7, 7]), 0, 10);
    expect([...kept]).toEqual([1, 0, 1, 1, 0, 1, 1, 1]);
  });

  it('keeps the first and last that are flagged, and takes no flagged one for an extreme', () => {
    const kept = standing(stretch([0, 1, 2, 3, 4, 5, 6], [5, 99, NaN, 99, 5, 6, 5], [0, 4, 1, 4, 0, 0, 0]), 0, 10);
    expect([...kept]).toEqual([1, 1, 0, 1, 0, 1, 1]);
  });

  it('leaves out what lies before', () => expect([...standing(stretch([0, 1, 2], [1, 2, 3]), 2, 10)]).toEqual([0, 0, 1]));

  it('loses no extreme of any trace', () =>
    fc.assert(
      fc.property(fc.array(fc.double({ noNaN: true, min: -100, max: 100 }), { minLength: 1, maxLength: 500 }), fc.double({ min: 0.5, max: 60, noNaN: true }), (pressure, interval) => {
        const kept = standing(stretch(pressure.map((_, i) => i / 10), pressure), 0, interval);
        const left = pressure.filter((_, i) => kept[i] === 1);
        expect(Math.max(...left)).toBe(Math.max(...pressure));
        expect(Math.min(...left)).toBe(Math.min(...pressure));
        expect([kept[0], kept.at(-1)]).toEqual([1, 1]);
        expect(left.length).toBeLessThanOrEqual(4 * (Math.floor((pressure.length - 1) / 10 / interval) + 1));
      }),
    ));
});
