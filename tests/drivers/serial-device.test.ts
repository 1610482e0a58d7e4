import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { SerialPort } from 'serialport';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { systemClock } from '../../drivers/clock.js';
import type { Received } from '../../drivers/driver.js';
import { inputSchema, sourceOf } from '../../drivers/index.js';
import { realWiring } from '../../drivers/real-wiring.js';
import { acquire, type Acquired } from '../../src/acquisition/acquire.js';
import { channelSchema } from '../../src/acquisition/channel-config.js';
import { listen } from './listen.js';
import { PtyPair, until } from './pty-pair.js';

let cable: PtyPair;
beforeEach(async () => {
  cable = new PtyPair();
  await cable.plug();
});
afterEach(() => cable.remove());

/** The driver on a real device. */
function read(path: string, more: Readonly<Record<string, unknown>> = {}) {
  const items: Received[] = [];
  let error: unknown;
  const input = inputSchema.parse({ driver: 'serial-line', path, firstLine: 'keep', ...more });
  const subscription = sourceOf(input).read(realWiring, systemClock).subscribe({ next: (item) => items.push(item), error: (e: unknown) => (error = e) });
  return {
    subscription,
    items,
    error: () => error,
    opened: () => until('the port is open', () => items.some((item) => item.kind === 'notice' && item.code === 'opened')),
    values: () => items.flatMap((item) => (item.kind === 'reading' ? [item.value] : [])),
    failed: () => until('the driver errs', () => error !== undefined),
  };
}

describe('a real serial device', () => {
  it('gives the same readings as bytes without a wire, however they are cut', async () => {
    const device = read(cable.path);
    await device.opened();
    const number = fc.integer({ min: -99_999, max: 99_999 }).map((n) => `${(n / 100).toFixed(2)} bar`);
    const line = fc.oneof({ weight: 5, arbitrary: number }, fc.constantFrom('+OL', '----', '350.2350.3', 'x\u00ff'));
    const stream = fc.sample(fc.tuple(line, fc.constantFrom('\r', '\n', '\r\n')), { numRuns: 300, seed: 5 }).map((parts) => parts.join('')).join('');
    const pieces = fc.sample(fc.integer({ min: 1, max: 40 }), { numRuns: 1000, seed: 6 });
    for (let at = 0, i = 0; at < stream.length; at += pieces[i++] ?? 1) {
      cable.send(stream.slice(at, at + (pieces[i] ?? 1)));
      if (i % 20 === 0) await new Promise((resolve) => setImmediate(resolve));
    }
    cable.send('999.99\r\n');
    await until('the last line has come', () => device.values().at(-1) === 999.99);
    const paper = listen();
    paper.wiring.receive(`${stream}999.99\r\n`);
    const timeless = (items: readonly Received[]) => items.filter((item) => item.kind !== 'notice').map((item) => ({ ...item, time: 0 }));
    expect(timeless(device.items)).toEqual(timeless(paper.items));
    expect(device.values().length).toBeGreaterThan(200);
    device.subscription.unsubscribe();
  });

  it('unplugged in the middle of a number: half of it is dropped, and the link is lost', async () => {
    const device = read(cable.path);
    await device.opened();
    cable.send('120.6\r\n120.');
    await until('the first reading has come', () => device.values().length === 1);
    await cable.unplug();
    await device.failed();
    expect(device.error()).toMatchObject({ name: 'LinkError', code: 'lost', message: expect.stringContaining(cable.path) as string });
    expect(device.values()).toEqual([120.6]);
    expect(device.items.filter((item) => item.kind === 'dropped')).toMatchObject([{ why: 'cut-off', raw: '120.' }]);
  });

  it('that does not exist is one clear sentence', async () => {
    const device = read(`${cable.path}-missing`);
    await device.failed();
    expect(device.error()).toMatchObject({ code: 'missing', message: `${cable.path}-missing is not there; is the cable plugged in` });
  });

  it('that is a plain file is one clear sentence', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'bench-file-'));
    const path = join(folder, 'file');
    writeFileSync(path, '350.0\r\n');
    const device = read(path);
    await device.failed();
    expect(device.error()).toMatchObject({ code: 'unusable', message: `${path} is not a serial port` });
    rmSync(folder, { recursive: true });
  });

  it('that another program has is busy; closed there, it can be opened at once', async () => {
    const other = new SerialPort({ path: cable.path, baudRate: 9600, autoOpen: false });
    await new Promise<void>((resolve, reject) => other.open((error) => (error ? reject(error) : resolve())));
    const device = read(cable.path);
    await device.failed();
    expect(device.error()).toMatchObject({ code: 'busy', message: `${cable.path} is in use by another program` });
    await new Promise<void>((resolve) => other.close(() => resolve()));
    const again = read(cable.path);
    await again.opened();
    again.subscription.unsubscribe();
    // Closed and opened in one breath: it must not be found busy with ourselves.
    const third = read(cable.path);
    await third.opened();
    expect(third.error()).toBeUndefined();
    third.subscription.unsubscribe();
  });

  it('is asked and answers', async () => {
    const device = read(cable.path, { poll: { query: '?P\r', every: '20 ms' } });
    const instrument = new SerialPort({ path: cable.far, baudRate: 9600 });
    let asked = '';
    instrument.on('data', (chunk: Buffer) => {
      asked += chunk.toString('latin1');
      if (chunk.includes('\r')) instrument.write('350.2 bar\r\n');
    });
    await until('five answers have come', () => device.values().length >= 5);
    expect(asked).toMatch(/^(\?P\r)+$/);
    expect(new Set(device.values())).toEqual(new Set([350.2]));
    device.subscription.unsubscribe();
    await new Promise<void>((resolve) => instrument.close(() => resolve()));
  });
});

describe('a channel on a real serial device', () => {
  const channel = () => channelSchema.parse({ input: { driver: 'serial-line', path: cable.path }, unit: 'bar', range: { upper: '600 bar' } });
  const follow = () => {
    const acquired: Acquired[] = [];
    const subscription = acquire(channel(), realWiring, systemClock).subscribe((item) => acquired.push(item));
    const state = (wanted: string) => () => acquired.findLast((item) => item.kind === 'state')?.state === wanted;
    const samples = () => acquired.filter((item) => item.kind === 'sample');
    const marks = () => acquired.flatMap((item) => (item.kind === 'mark' ? [item.mark.kind] : []));
    return { acquired, subscription, state, samples, marks };
  };

  it('unplugged and plugged in again, five times: it is back each time, the gap is marked, no half number came', async () => {
    const link = follow();
    for (let round = 1; round <= 5; round++) {
      const before = link.samples().length;
      const feeding = setInterval(() => cable.send('350.25 bar\r\n'), 10);
      await until('readings come', () => link.state('live')() && link.samples().length > before + 5);
      clearInterval(feeding);
      cable.send('350.');
      await cable.unplug();
      await until('the loss is told', link.state('waiting'));
      expect(link.marks().at(-1)).toBe('signal-lost');
      await cable.plug();
    }
    const feeding = setInterval(() => cable.send('350.25 bar\r\n'), 10);
    const marked = link.marks().length;
    await until('readings come again', () => link.marks().length > marked && link.state('live')());
    clearInterval(feeding);
    expect(link.marks()).toEqual(Array.from({ length: 5 }, () => ['signal-lost', 'signal-back']).flat());
    expect(new Set(link.samples().map((sample) => sample.pressure))).toEqual(new Set([350.25]));
    const times = link.acquired.flatMap((item) => (item.kind === 'mark' ? [item.mark.time] : item.kind === 'sample' ? [item.time] : []));
    expect(times).toEqual([...times].sort((a, b) => a - b));
    link.subscription.unsubscribe();
  });

  it('busy with another program at first: it says so, stays alive, and takes the port when it is free', async () => {
    const other = new SerialPort({ path: cable.path, baudRate: 9600, autoOpen: false });
    await new Promise<void>((resolve, reject) => other.open((error) => (error ? reject(error) : resolve())));
    const link = follow();
    await until('busy is told', link.state('busy'));
    await new Promise<void>((resolve) => other.close(() => resolve()));
    const feeding = setInterval(() => cable.send('350.25 bar\r\n'), 10);
    await until('readings come', link.state('live'));
    clearInterval(feeding);
    link.subscription.unsubscribe();
  });

  it('not there at first: it is taken when it comes', async () => {
    await cable.unplug();
    const link = follow();
    await until('the missing port is told', link.state('waiting'));
    await cable.plug();
    const feeding = setInterval(() => cable.send('350.25 bar\r\n'), 10);
    await until('readings come', link.state('live'));
    clearInterval(feeding);
    expect(link.marks()).toEqual([]);
    link.subscription.unsubscribe();
  });
});
