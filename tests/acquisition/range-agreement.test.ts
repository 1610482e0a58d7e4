import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { channelSchema } from '../../src/acquisition/channel-config.js';
import { channelUncertainty } from '../../src/acquisition/channel-uncertainty.js';
import { RangeAgreement, type Disagreement } from '../../src/acquisition/range-agreement.js';

const low = { range: { lower: 0, upper: 250 }, uncertainty: 1.5 };
const high = { range: { lower: 0, upper: 1000 }, uncertainty: 2 };

/** Both read every 100 ms, the second 50 ms later; bar over time. */
function compare(judged: (time: number) => number, other: (time: number) => number, seconds: number, mayBeIsolated = false) {
  const agreement = new RangeAgreement(mayBeIsolated ? high : low, mayBeIsolated ? low : high, mayBeIsolated);
  const found: Disagreement[] = [];
  for (let i = 0; i < seconds * 10; i++) {
    for (const [which, at, value] of [['judged', i / 10, judged], ['other', i / 10 + 0.05, other]] as const) {
      const said = agreement.sample(which, at, value(at));
      if (said !== null) found.push(said);
    }
  }
  return { agreement, found };
}

describe('agreement of two transducers', () => {
  it('with no drift they agree however fast the pressure moves, up to 200 bar/s', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.1, max: 200, noNaN: true }), fc.double({ min: -2, max: 2, noNaN: true }), (rate, offset) => {
        const pressure = (t: number) => 240 * Math.abs(Math.sin((rate * t) / 240));
        const { found, agreement } = compare(pressure, (t) => pressure(t) + offset, 20);
        expect(found).toEqual([]);
        expect(agreement.compared).toBeGreaterThan(30);
      }),
    );
  });
  it('a zero that moved is found at rest within two seconds, once', () => {
    const { found } = compare(() => 0, () => 4, 10);
    expect(found).toHaveLength(1);
    expect(found[0]?.at).toBeLessThan(2);
    expect(found[0]).toMatchObject({ judged: 0, other: 4, allowed: 2.5 });
  });
  it('one stroke in which they move at different times is none', () => {
    expect(compare((t) => (t < 5 ? 100 : 110), (t) => (t < 5.4 ? 100 : 110), 10).found).toEqual([]);
  });
  it('what only one of them can measure is not compared', () => {
    const { found, agreement } = compare(() => 260, () => 300, 10);
    expect([found, agreement.compared]).toEqual([[], 0]);
  });
  it('a shut valve is isolation where the plan goes beyond the low one, and a disagreement where it does not', () => {
    const rising = (t: number) => 20 * t;
    const stuck = (t: number) => Math.min(60, 20 * t);
    expect(compare(rising, stuck, 12, true)).toMatchObject({ found: [], agreement: { isolated: true } });
    expect(compare(rising, stuck, 12).found).toHaveLength(1);
  });
});

describe('uncertainty of a channel', () => {
  const channel = (more: object) => channelSchema.parse({ input: { driver: 'tcp-line', host: 'h', port: 1 }, unit: 'bar', range: { upper: '1000 bar' }, ...more });
  const calibration = { certificate: 'K', serial: 'T', date: '2026-01-01', due: '2027-01-01' };
  // JCGM 100:2008: rectangles have a standard deviation of half width over root 3 (4.3.7), contributions add as squares (5.1.2), k = 2.
  it.each([
    ['class 0.25 % of 1000 bar', { accuracyClass: 0.25 }, (2 * 2.5) / Math.sqrt(3)],
    ['certificate alone', { calibration: { ...calibration, uncertainty: '0.8 bar' } }, 0.8],
    ['both', { accuracyClass: 0.25, calibration: { ...calibration, uncertainty: '0.8 bar' } }, Math.hypot(0.8, 5 / Math.sqrt(3))],
    ['neither: 0.5 % is taken', {}, 10 / Math.sqrt(3)],
    ['a step of 1 bar', { calibration: { ...calibration, uncertainty: '0.8 bar' }, resolution: '1 bar' }, Math.hypot(0.8, 2 / Math.sqrt(12))],
  ])('%s', (_name, more, right) => {
    expect(channelUncertainty(channel(more))).toBeCloseTo(right, 9);
  });
});
