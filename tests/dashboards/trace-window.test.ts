import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { movedTo, readEnvelope } from '../../dashboards/live/earlier-run.js';
import { lanes } from '../../dashboards/shared/label-lanes.js';
import { leadLine } from '../../dashboards/shared/trace-line.js';
import { panned, spanOf, zoomed } from '../../dashboards/shared/trace-window.js';

const extent = { oldest: 0, newest: 500, runSince: 400 };

describe('what stretch the trace shows', () => {
  it('the whole run, with the newest sample in it, moving on', () => {
    for (const newest of [400.1, 430, 460, 900]) {
      const { from, to } = spanOf({ kind: 'run' }, { ...extent, newest });
      expect(from).toBeLessThan(400);
      expect(to).toBeGreaterThan(newest);
    }
    expect(spanOf({ kind: 'last', seconds: 60 }, extent)).toEqual({ from: 440, to: 500 });
    expect(spanOf({ kind: 'run' }, { oldest: Number.NaN, newest: Number.NaN, runSince: null })).toEqual({ from: 0, to: 60 });
  });
  it('stays put once somebody has zoomed, while new samples come in', () => {
    const window = zoomed({ from: 400, to: 500 }, 0.5, 450, extent);
    expect(spanOf(window, { ...extent, newest: 9000 })).toEqual({ from: 425, to: 475 });
  });
  it('zooming keeps the moment under the pointer where it is', () => {
    fc.assert(fc.property(fc.double({ min: 0.3, max: 0.99, noNaN: true }), fc.double({ min: 0.2, max: 0.8, noNaN: true }), (factor, place) => {
      const at = 400 + 100 * place;
      const { from, to } = spanOf(zoomed({ from: 400, to: 500 }, factor, at, extent), extent);
      expect((at - from) / (to - from)).toBeCloseTo(place, 6);
    }));
  });
  it('cannot be lost to either side', () => {
    for (const share of [-50, 50]) {
      const { from, to } = spanOf(panned({ from: 400, to: 500 }, share, extent), extent);
      expect(from).toBeLessThan(extent.newest);
      expect(to).toBeGreaterThan(extent.oldest);
    }
  });
});

describe('drawing', () => {
  const pen = () => {
    const said: string[] = [];
    return { said, moveTo: (x: number, y: number) => said.push(`M${x},${y}`), lineTo: (x: number, y: number) => said.push(`L${x},${y}`) };
  };
  it('lifts the pen at a missing sample and shows a lonely one as a dash', () => {
    const p = pen();
    const lines = leadLine(p, [0, 1, 2, 3, 4, 5], [9, 9, Number.NaN, 7, Number.NaN, Number.NaN], 6, (t) => t, (v) => v, 0.5);
    expect(p.said).toEqual(['M0,9', 'L1,9', 'M3,7', 'M2.5,7', 'L3.5,7']);
    expect(lines).toBe(2);
  });
  it('draws nothing of nothing', () => expect(leadLine(pen(), [0], [Number.NaN], 1, Number, Number, 1)).toBe(0));
  it('labels never touch within a lane', () => {
    fc.assert(fc.property(fc.array(fc.record({ x: fc.nat(1000), width: fc.integer({ min: 1, max: 200 }) })), (wanted) => {
      const labels = wanted.sort((a, b) => a.x - b.x);
      const rows = lanes(labels, 3, 4);
      labels.forEach((a, i) => labels.slice(i + 1).forEach((b, k) => {
        if (rows[i] !== -1 && rows[i] === rows[i + 1 + k]) expect(b.x).toBeGreaterThanOrEqual(a.x + a.width + 4);
      }));
      if (labels.length > 0) expect(rows[0]).toBe(0);
    }));
  });
});

describe('an earlier run', () => {
  it('FC-35: a null of the server becomes missing, never 0', () => {
    expect([...(readEnvelope({ time_s: [1, 2, 3], pressure_bar: [5, null, 7] })?.pressure ?? [])]).toEqual([5, Number.NaN, 7]);
  });
  it.each([null, 5, {}, { time_s: [1], pressure_bar: [] }, { time_s: 1, pressure_bar: 2 }])('%j is none', (body) => expect(readEnvelope(body)).toBeNull());
  it('is laid with its start at the start of the present one', () => {
    const run = movedTo({ time: Float64Array.of(100, 101, 103), pressure: Float64Array.of(1, 2, 3) }, 400);
    expect([...run.time]).toEqual([400, 401, 403]);
  });
});
