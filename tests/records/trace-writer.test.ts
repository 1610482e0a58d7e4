import { statSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { openStore } from '../../src/records/store.js';
import { emptyFolder, heldPressure, morning, opened, outcomeOf } from './example-store.js';

// FC-26: disk full.
describe('while the disk is full', () => {
  const full = (limit?: number) => {
    const store = opened(join(emptyFolder(), 'bench.db'), limit === undefined ? {} : { waitingLimit: limit });
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    const thresholds = store.keepVersion('thresholds', {});
    const run = store.openRun({ channel, from: 0, plan: null, thresholds, instrument: null });
    const writer = store.beginSegment(channel, { time: 0, wall: morning });
    const pages = () => Number(store.db.pragma('page_count', { simple: true }));
    const most = store.db.pragma('max_page_count', { simple: true });
    return { store, channel, run, writer, fill: () => store.db.pragma(`max_page_count = ${pages()}`), free: () => store.db.pragma(`max_page_count = ${most}`) };
  };

  it('samples wait in memory, the trouble is told, and all are stored once there is room', () => {
    const { store, channel, run, writer, fill, free } = full();
    const feed = (from: number, to: number) => {
      for (let i = from; i < to; i++) {
        writer.append(i / 100, heldPressure(i), 0);
        if (i % 100 === 0) store.tick(i / 100);
      }
    };
    feed(0, 1000);
    expect(writer.trouble).toBeNull();
    fill();
    feed(1000, 7000);
    const trouble = writer.trouble;
    expect(trouble).toMatchObject({ code: 'disk-full', lost: 0 });
    expect(trouble?.since).toBeGreaterThanOrEqual(9.9);
    expect(store.traceWindow(channel, 0, 100).time.length).toBe(7000);
    expect(() => store.finishRun(run, { to: 69, outcome: outcomeOf('pass') })).toThrow(/run 1 cannot be sealed yet: the disk is full/);
    expect(store.getRun(run)?.state).toBe('open');
    free();
    store.tick(71);
    expect(writer.trouble).toBeNull();
    feed(7000, 8000);
    expect(store.finishRun(run, { to: 69, outcome: outcomeOf('pass') }).verdict).toBe('pass');
    const trace = store.traceWindow(channel, 0, 100);
    expect([...trace.pressure]).toEqual(Array.from({ length: 8000 }, (_, i) => heldPressure(i)));
    expect(trace.marks).toEqual([]);
  });

  it('gives up the oldest samples when too many wait, and marks the gap', () => {
    const { store, channel, writer, fill, free } = full(800);
    fill();
    for (let i = 0; i < 10_000; i++) {
      writer.append(i / 100, heldPressure(i), 0);
      if (i % 100 === 99) store.tick(i / 100);
    }
    const trouble = writer.trouble;
    expect(trouble?.code).toBe('disk-full');
    expect(trouble?.waiting).toBeLessThanOrEqual(800);
    free();
    store.tick(100);
    const trace = store.traceWindow(channel, 0, 200);
    const kept = [...trace.time];
    // Everything is either stored or told as lost.
    expect(kept.length + (trouble?.lost ?? 0)).toBe(10_000);
    expect(kept.at(-1)).toBe(99.99);
    expect(trace.marks.map((mark) => mark.kind)).toEqual(['signal-lost', 'signal-back']);
    const [lost, back] = trace.marks;
    expect(lost?.text).toBe(`${trouble?.lost} samples could not be stored`);
    expect(kept.filter((time) => time >= (lost?.time ?? NaN) && time <= (back?.time ?? NaN))).toEqual([]);
  });
});

describe('the writer', () => {
  it('refuses a sample without a time', () => {
    const store = opened(join(emptyFolder(), 'bench.db'));
    const writer = store.beginSegment(store.channel('bench 1', 'pressure', 'bar').id, { time: 0, wall: morning });
    expect(() => { writer.append(NaN, 1, 0); }).toThrow(RangeError);
  });

  it('is read by two others while it writes, each at every moment seeing whole seconds', () => {
    const path = join(emptyFolder(), 'bench.db');
    const store = opened(path);
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    const readers = [0, 1].map(() => openStore(path, { software: 'reader', readOnly: true }).store);
    const writer = store.beginSegment(channel, { time: 0, wall: morning });
    for (let i = 0; i < 20_000; i++) {
      writer.append(i / 100, heldPressure(i), 0);
      if (i % 100 !== 99) continue;
      store.tick(i / 100);
      const reader = readers[(i / 100) & 1];
      const seen = reader?.traceWindow(channel, 0, 1e6).pressure ?? [];
      expect(seen.length % 100).toBe(0);
      expect(seen.length).toBeGreaterThanOrEqual(i - 199);
      expect(seen[seen.length - 1]).toBe(seen.length > 0 ? heldPressure(seen.length - 1) : undefined);
      expect(() => readers[0]?.db.prepare('DELETE FROM marks').run()).toThrow(/readonly/);
    }
    for (const reader of readers) reader.close();
  });

  it('keeps the log within its limit although a reader holds it open for a while', () => {
    const path = join(emptyFolder(), 'bench.db');
    const store = opened(path);
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    const { store: reader } = openStore(path, { software: 'reader', readOnly: true });
    const writer = store.beginSegment(channel, { time: 0, wall: morning });
    reader.db.exec('BEGIN');
    reader.listRuns();
    const feed = (from: number, to: number) => {
      for (let i = from; i < to; i++) {
        writer.append(i / 1000, Math.sin(i) * 500, 0); // no steps: 8 bytes a sample, so that the log grows
        if (i % 1000 === 0) store.tick(i / 1000);
      }
    };
    feed(0, 600_000);
    expect(statSync(`${path}-wal`).size).toBeGreaterThan(16 * 2 ** 20);
    reader.db.exec('COMMIT');
    feed(600_000, 660_000);
    expect(statSync(`${path}-wal`).size).toBeLessThanOrEqual(16 * 2 ** 20);
    reader.close();
  });
});
