import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { BlockTable } from '../../../src/records/block-table.js';
import { bundledEntry } from '../../records/bundled-entry.js';
import { FakeServer } from './fake-server.js';
import { ForwardedStore, morning } from './forwarded-store.js';

let entry: Awaited<ReturnType<typeof bundledEntry>>;
beforeAll(async () => {
  entry = await bundledEntry('tests/sinks/influx/endless-forwarder.ts');
});
afterAll(() => {
  entry.remove();
});

/** Three days at 10 readings a second, in blocks as they are after merging. */
const rate = 10;
const blockSeconds = 900;
const days = 3;
const total = days * 86_400 * rate;
const megabyte = 2 ** 20;

describe('FC-23: server down for days', () => {
  it('all points come once and in order, and the memory stays flat', { timeout: 120_000 }, async () => {
    const source = new ForwardedStore();
    const { store, channel } = source;
    const blocks = new BlockTable(store.db);
    const segment = store.channels.beginSegment(channel, { time: 1000, wall: morning });
    const count = rate * blockSeconds;
    store.db.transaction(() => {
      for (let position = 0; position < total; position += count) {
        const time = Float64Array.from({ length: count }, (_, i) => 1000 + (position + i) / rate);
        const pressure = Float64Array.from({ length: count }, (_, i) => Math.round(500 + 50 * Math.sin((position + i) / 5000)) + ((position + i) % 7) / 100);
        blocks.insert({ channel, segment, position, tier: 2 }, { time, pressure, flags: new Uint8Array(count), raw: null });
      }
    })();

    let [arrived, last, outOfOrder, refusals] = [0, 0, 0, 0];
    const fake = await FakeServer.begin((lines) => {
      if (refusals++ < 3) return { status: 503 };
      for (const line of lines) {
        const stamp = Number(line.slice(line.lastIndexOf(' ') + 1));
        if (stamp <= last) outOfOrder++;
        last = stamp;
      }
      arrived += lines.length;
      return { status: 204 };
    });
    const child = spawn(process.execPath, [entry.path, source.path, fake.url.href, 'rig'], { stdio: ['ignore', 'pipe', 'inherit'] });
    const memory: number[] = [];
    for await (const line of createInterface({ input: child.stdout })) {
      const [, rss] = / memory (\d+)/.exec(line) ?? [];
      memory.push(Number(rss));
      if (arrived >= total && !child.killed) child.kill('SIGTERM');
      fake.stored.length = 0;
    }
    if (child.exitCode === null && child.signalCode === null) await once(child, 'exit');
    expect({ arrived, outOfOrder }).toEqual({ arrived: total, outOfOrder: 0 });
    expect(last).toBe((morning + (total - 1) * (1000 / rate)) * 1000);
    expect(Math.max(...fake.sizes)).toBeLessThanOrEqual(2000);
    // Once it is under way: what is waiting adds nothing.
    const [early, late] = [memory[Math.floor(memory.length / 4)] ?? NaN, memory.at(-1) ?? NaN];
    if (process.env['MEMORY'] !== undefined) console.log(memory.filter((_, i) => i % 50 === 0).map((bytes) => Math.round(bytes / megabyte)).join(' '));
    expect(late - early).toBeLessThan(50 * megabyte);
  });
});
