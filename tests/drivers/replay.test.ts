import { describe, expect, it } from 'vitest';
import type { Received } from '../../drivers/driver.js';
import { inputSchema, sourceOf } from '../../drivers/index.js';
import { traceRows } from '../../drivers/replay.js';
import { FakeWiring } from './fake-wiring.js';
import { VirtualClock } from './virtual-clock.js';

async function play(text: string, speed = 1) {
  const wiring = new FakeWiring();
  const clock = new VirtualClock();
  wiring.files.set('run.csv', text);
  const items: Received[] = [];
  let over = false;
  let error: unknown;
  sourceOf(inputSchema.parse({ driver: 'replay', path: 'run.csv', speed }))
    .read(wiring, clock)
    .subscribe({ next: (item) => items.push(item), error: (e: unknown) => (error = e), complete: () => (over = true) });
  await Promise.resolve().then(() => Promise.resolve());
  const readings = () => items.flatMap((item) => (item.kind === 'reading' ? [[item.time, item.value]] : []));
  return { clock, items, readings, over: () => over, error: () => error };
}

const trace = 'time_s,pressure_bar\n10,0\n10.5,100.5\n11,\n12,200\n';

describe('replay', () => {
  it('plays rows at their time and is over after the last', async () => {
    const run = await play(trace);
    expect(run.readings()).toEqual([[0, 0]]);
    run.clock.to(0.5);
    expect(run.readings()).toEqual([[0, 0], [0.5, 100.5]]);
    run.clock.to(1.9);
    expect(run.over()).toBe(false);
    expect(run.items.at(-1)).toMatchObject({ kind: 'fault', time: 1, fault: 'no-reading' });
    run.clock.to(2);
    expect(run.readings()).toEqual([[0, 0], [0.5, 100.5], [2, 200]]);
    expect(run.over()).toBe(true);
    expect(run.clock.waiting).toBe(0);
  });

  it('has the same sample times at any speed', async () => {
    const [slow, fast] = [await play(trace, 1), await play(trace, 100)];
    slow.clock.to(2);
    fast.clock.to(0.021);
    expect(fast.readings()).toEqual(slow.readings());
    expect(fast.over()).toBe(true);
  });

  it.each([
    ['p,t\n1,2\n', /its header should be time_s,pressure_bar/],
    ['time_s,pressure_bar\nten,2\n', /row 2: 'ten' is not a time in seconds/],
    ['time_s,pressure_bar\n0,1\n9,2\n0,1\n1,2\n', /row 4: the time runs back from 9 s to 0 s; play each recording from a file of its own/],
  ])('refuses %j', async (text, sentence) => {
    const run = await play(text);
    expect(run.error()).toMatchObject({ name: 'LinkError', code: 'unusable', message: expect.stringMatching(sentence) as string });
  });

  it('takes a byte-order mark and further columns', () => {
    expect(traceRows('\uFEFFtime_s,pressure_bar,flags\r\n0,1.5,0\r\n', 'run.csv')).toEqual([{ time: 0, raw: '1.5', pressure: 1.5 }]);
  });
});
