import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Store } from '../../src/records/store.js';
import { bundledEntry } from './bundled-entry.js';
import { emptyFolder, heldPressure, morning, opened } from './example-store.js';

let worker: Awaited<ReturnType<typeof bundledEntry>>;
beforeAll(async () => {
  worker = await bundledEntry('src/cli/store-worker.ts');
});
afterAll(() => {
  worker.remove();
});

const names = ['low', 'high', 'supply'];
/** Three channels, recorded for `seconds` at 20 readings a second; nothing is merged yet. */
function recorded(thread: URL, seconds: number, remark: (sentence: string) => void = () => undefined): { store: Store; channels: number[] } {
  const store = opened(join(emptyFolder(), 'bench.db'), { thread, remark });
  const channels = names.map((name) => store.channel('bench 1', name, 'bar').id);
  const writers = channels.map((channel) => store.beginSegment(channel, { time: 0, wall: morning }));
  for (let i = 0; i < seconds * 20; i++) writers.forEach((writer, k) => writer.append(i / 20, heldPressure(i) + k, 0));
  store.flush();
  return { store, channels };
}
/** Ticks, and lets the thread answer, until nothing more is done. */
async function mergeAll(store: Store, from: number): Promise<void> {
  for (let i = 0; i < 12; i++) {
    store.tick(from + i);
    await store.merged();
  }
}
const blocksOf = (store: Store) =>
  store.db
    .prepare<[], Record<string, unknown>>('SELECT channel, position, count, tier, earliest, latest, span0, span1, hex(samples) AS samples FROM blocks JOIN contents ON block = id ORDER BY channel, position')
    .all();
const summariesOf = (store: Store) => store.db.prepare<[], unknown>('SELECT hex(content) FROM summaries ORDER BY 1').pluck().all();
const times = (store: Store, channel: number) => [...store.traceWindow(channel, -Infinity, Infinity).time];
/** A thread of a test: what it does with a chore. */
function threadThat(does: string): URL {
  const path = join(emptyFolder(), 'worker.mjs');
  writeFileSync(path, `import { parentPort } from 'node:worker_threads';\nparentPort.on('message', ({ id, question }) => { ${does} });\n`);
  return pathToFileURL(path);
}

describe('merging beside the recording', () => {
  it('gives the same blocks and summaries, byte for byte, as merging at once', async () => {
    const beside = recorded(pathToFileURL(worker.path), 200);
    const atOnce = recorded(pathToFileURL(worker.path), 200);
    await mergeAll(beside.store, 200);
    atOnce.store.compact();
    expect(blocksOf(beside.store)).toEqual(blocksOf(atOnce.store));
    expect(blocksOf(beside.store).filter(({ tier }) => tier === 1)).toHaveLength(9);
    expect(summariesOf(beside.store)).toEqual(summariesOf(atOnce.store));
    expect(summariesOf(beside.store).length).toBeGreaterThan(0);
  });

  it('leaves alone what has changed meanwhile', async () => {
    const { store, channels } = recorded(pathToFileURL(worker.path), 130);
    store.tick(130);
    // The thread has the first blocks in hand; now they are merged here, and one of them is taken out.
    store.compact();
    const merged = blocksOf(store);
    store.db.prepare('DELETE FROM contents WHERE block = (SELECT min(id) FROM blocks WHERE tier = 1)').run();
    store.db.prepare('DELETE FROM blocks WHERE id = (SELECT min(id) FROM blocks WHERE tier = 1)').run();
    await store.merged();
    expect(blocksOf(store)).toEqual(merged.filter((_, i) => i !== merged.findIndex(({ tier }) => tier === 1)));
    expect(times(store, channels[2]!)).toHaveLength(2600);
  });

  it('that is cut short by closing the store changes nothing', async () => {
    const { store } = recorded(pathToFileURL(worker.path), 130);
    store.tick(130);
    expect(store.close()).toBe(true);
    await store.merged();
  });

  it.each([
    ['answers with an error', "parentPort.postMessage({ id, failed: 'out of luck' });"],
    ['throws', "throw new Error('out of luck');"],
    ['ends', 'process.exit(1);'],
  ])('by a thread that %s: done here instead, and said once', async (_what, does) => {
    const said: string[] = [];
    const { store, channels } = recorded(threadThat(does), 130, (sentence) => said.push(sentence));
    await mergeAll(store, 130);
    expect(said).toEqual([expect.stringMatching(/^blocks of readings are merged without a thread of their own \(/)]);
    expect(blocksOf(store).filter(({ tier }) => tier === 1)).toHaveLength(6);
    for (const channel of channels) expect(times(store, channel)).toEqual(Array.from({ length: 2600 }, (_, i) => i / 20));
  });

  it('by a thread that did well before: the short blocks stay, recording goes on, and it is said', async () => {
    const said: string[] = [];
    const does = "if ('checkpoint' in question) parentPort.postMessage({ id, answer: { checkpointed: true } }); else process.exit(1);";
    const { store, channels } = recorded(threadThat(does), 130, (sentence) => said.push(sentence));
    // The first tick asks for a merge and for a checkpoint: here the checkpoint comes first.
    await store['thread'].checkpoint('');
    await mergeAll(store, 130);
    expect(said).toEqual(channels.map((channel) => expect.stringMatching(`^6[01] blocks of channel ${channel} were not merged and stay as they are \\(`) as string));
    expect(blocksOf(store).every(({ tier }) => tier === 0)).toBe(true);
    const writers = channels.map((channel) => store.beginSegment(channel, { time: 200, wall: morning }));
    for (const writer of writers) writer.append(200, 1, 0);
    store.tick(201.1);
    expect(writers.map(({ trouble }) => trouble)).toEqual([null, null, null]);
    for (const channel of channels) expect(times(store, channel)).toHaveLength(2601);
  });
});

describe('channels of one store', () => {
  const twoChannels = () => {
    const store = opened(join(emptyFolder(), 'bench.db'));
    const [low = 0, high = 0] = ['low', 'high'].map((name) => store.channel('bench 1', name, 'bar').id);
    const writers = [low, high].map((channel) => store.beginSegment(channel, { time: 0, wall: morning }));
    return { store, low, high, writers };
  };
  const onDisk = (store: Store, channel: number) => store.db.prepare<[number], number>('SELECT total(count) FROM blocks WHERE channel = ?').pluck().get(channel);

  it('are committed together as soon as one is due', () => {
    const { store, low, high, writers: [first, second] } = twoChannels();
    first?.append(0, 1, 0);
    second?.append(0.9, 1, 0);
    second?.mark({ time: 0.95, kind: 'pump-on' });
    first?.append(1, 1, 0);
    expect([onDisk(store, low), onDisk(store, high)]).toEqual([1, 1]);
    expect(store.db.prepare('SELECT count(*) FROM marks').pluck().get()).toBe(1);
  });

  it('of which one is refused: the other records on, and nothing is lost', () => {
    const { store, low, high, writers: [first, second] } = twoChannels();
    store.db.exec(`CREATE TRIGGER refuse BEFORE INSERT ON blocks WHEN NEW.channel = ${low} BEGIN SELECT RAISE(ABORT, 'not this one'); END`);
    for (let i = 0; i < 500; i++) {
      first?.append(i / 100, i, 0);
      second?.append(i / 100, i, 0);
      if (i % 50 === 0) store.tick(i / 100);
    }
    expect(first?.trouble).toMatchObject({ code: 'disk-error', waiting: 500, lost: 0 });
    expect(second?.trouble).toBeNull();
    expect(onDisk(store, low)).toBe(0);
    expect(onDisk(store, high)).toBeGreaterThanOrEqual(400);
    store.db.exec('DROP TRIGGER refuse');
    store.tick(6);
    expect(first?.trouble).toBeNull();
    for (const channel of [low, high]) expect([...store.traceWindow(channel, 0, 10).pressure]).toEqual(Array.from({ length: 500 }, (_, i) => i));
  });
});
