import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { takeStamp } from '../../../src/sinks/influx/lanes.js';

const anyClock = fc.array(fc.integer({ min: -3000, max: 3000 }), { maxLength: 300 }).map((steps) => {
  let now = 1e6;
  return steps.map((step) => (now += step));
});
const place = (wanted: readonly number[], slack: number, lanes: number[] = []) =>
  wanted.map((stamp) => {
    const lane = takeStamp(lanes, stamp, slack);
    return { lane, stamp: lanes[lane] ?? NaN };
  });

describe('lanes', () => {
  it('no two points of a lane share a stamp, and each lane goes forward', () =>
    fc.assert(
      fc.property(anyClock, fc.nat(500), (wanted, slack) => {
        const newest: number[] = [];
        for (const { lane, stamp } of place(wanted, slack)) {
          expect(stamp).toBeGreaterThan(newest[lane] ?? -Infinity);
          newest[lane] = stamp;
        }
      }),
    ));

  it('a stamp is at most the slack late, as long as there are lanes', () =>
    fc.assert(
      fc.property(anyClock, fc.nat(500), (wanted, slack) => {
        place(wanted, slack).forEach(({ stamp, lane }, i) => {
          const late = stamp - (wanted[i] ?? NaN);
          expect(late).toBeGreaterThanOrEqual(0);
          if (lane < 63) expect(late).toBeLessThanOrEqual(slack);
        });
      }),
    ));

  it('going on from a kept table gives the stamps that one go gives', () =>
    fc.assert(
      fc.property(anyClock, fc.nat(300), fc.nat(500), (wanted, cut, slack) => {
        const lanes: number[] = [];
        const first = place(wanted.slice(0, cut), slack, lanes);
        const kept = JSON.parse(JSON.stringify(lanes)) as number[];
        expect([...first, ...place(wanted.slice(cut), slack, kept)]).toEqual(place(wanted, slack));
      }),
    ));

  it('a clock that goes forward needs one lane and no change', () => expect(place([1, 2, 5, 9], 20)).toEqual([1, 2, 5, 9].map((stamp) => ({ lane: 0, stamp }))));

  it('even the same moment a thousand times makes a thousand points', () => {
    const placed = place(new Array<number>(1000).fill(7), 3);
    expect(new Set(placed.map(({ lane, stamp }) => `${lane} ${stamp}`)).size).toBe(1000);
  });
});
