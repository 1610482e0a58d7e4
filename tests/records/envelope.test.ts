import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Store } from '../../src/records/store.js';
import { emptyFolder, heldPressure, morning, opened, record } from './example-store.js';

/** The definition, sample by sample. */
function plainly(store: Store, channel: number, from: number, to: number, columns: number) {
  const { time, pressure, flags } = store.traceWindow(channel, from, to);
  const found = Array.from({ length: columns }, () => ({ readings: [] as number[], flags: 0 }));
  time.forEach((t, i) => {
    const column = found[Math.min(columns - 1, Math.floor((t - from) * (columns / (to - from))))];
    if (!column) return;
    column.flags |= flags[i] ?? 0;
    const p = pressure[i] ?? NaN;
    if (!Number.isNaN(p)) column.readings.push(p);
  });
  return found.map(({ readings, flags: seen }) => ({
    first: readings[0] ?? NaN,
    lowest: readings.length > 0 ? Math.min(...readings) : NaN,
    highest: readings.length > 0 ? Math.max(...readings) : NaN,
    last: readings.at(-1) ?? NaN,
    flags: seen,
  }));
}

const columnsOf = (store: Store, channel: number, from: number, to: number, columns: number) => {
  const found = store.envelope(channel, from, to, columns);
  return Array.from({ length: columns }, (_, i) => ({
    first: found.first[i], lowest: found.lowest[i], highest: found.highest[i], last: found.last[i], flags: found.flags[i],
  }));
};

describe('an envelope', () => {
  it('is exact wherever samples are read: new, merged or still in memory', () => {
    const store = opened(join(emptyFolder(), 'bench.db'));
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    record(store, channel, 0, 20_000);
    store.compact();
    const writer = store.beginSegment(channel, { time: 230, wall: morning });
    // A gap of 30 s, unreadable samples, and a second that is not committed yet.
    for (let i = 0; i < 550; i++) writer.append(230 + i / 100, i % 50 === 0 ? NaN : heldPressure(i), i % 50 === 0 ? 1 : 0);
    fc.assert(
      fc.property(fc.double({ min: -5, max: 236, noNaN: true }), fc.double({ min: 0.01, max: 30, noNaN: true }), fc.integer({ min: 20, max: 300 }), (from, width, columns) => {
        expect(columnsOf(store, channel, from, from + width, columns)).toEqual(plainly(store, channel, from, from + width, columns));
      }),
      { numRuns: 60 },
    );
  });

  it('never loses an extreme, and puts it within a quarter of a column, however long the window', () => {
    const store = opened(join(emptyFolder(), 'bench.db'));
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    const spikes = [7_777, 33_000, 33_001, 120_001, 199_999].map((at) => ({ at, time: at / 100 }));
    const value = (i: number) => heldPressure(i) + (spikes.some(({ at }) => at === i) ? 50 : 0) - (i === 150_000 ? 300 : 0);
    record(store, channel, 0, 200_000, 100, value);
    store.compact();
    store.compact();
    for (const columns of [3, 10, 37, 200]) {
      const found = store.envelope(channel, 0, 2000, columns);
      const width = 2000 / columns;
      for (const { time } of spikes) {
        const near = [...found.highest.keys()].filter((c) => time >= (c - 0.25) * width && time <= (c + 1.25) * width);
        expect(near.some((c) => (found.highest[c] ?? 0) > 590), `spike at ${time} s in ${columns} columns`).toBe(true);
      }
      const exact = plainly(store, channel, 0, 2000, columns);
      expect(Math.max(...found.highest)).toBe(Math.max(...exact.map((c) => c.highest)));
      expect(Math.min(...found.lowest)).toBe(Math.min(...exact.map((c) => c.lowest)));
      expect(found.highest.filter((p) => p > 590).length).toBeLessThanOrEqual(spikes.length);
      expect([...found.first].every((p) => p > 200)).toBe(true);
      expect(found.first[0]).toBe(value(0));
      expect(found.last[columns - 1]).toBe(value(199_999));
    }
  });

  it('leaves a gap empty in a long window', () => {
    const store = opened(join(emptyFolder(), 'bench.db'));
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    const writer = store.beginSegment(channel, { time: 0, wall: morning });
    for (let i = 0; i < 60_000; i++) if (i < 20_000 || i >= 40_000) writer.append(i / 100, heldPressure(i), 0);
    writer.flush();
    store.compact();
    const found = store.envelope(channel, 0, 600, 30);
    for (let c = 0; c < 30; c++) expect(Number.isNaN(found.first[c]), `column ${c}`).toBe(c >= 10 && c < 20);
  });

  it('refuses a window without width', () => {
    const store = opened(join(emptyFolder(), 'bench.db'));
    expect(() => store.envelope(1, 5, 5, 100)).toThrow(RangeError);
    expect(() => store.envelope(1, 0, 5, 0)).toThrow(RangeError);
  });
});
