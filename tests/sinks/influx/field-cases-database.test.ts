import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Flag } from '../../../src/core/trace.js';
import { until } from '../../server/until.js';
import { DatabaseServer } from '../../../simulators/fleet/database-server.js';
import { FakeServer } from './fake-server.js';
import { forwarding, ForwardedStore, isUpToDate, morning } from './forwarded-store.js';

let server: DatabaseServer;
beforeAll(async () => {
  server = await DatabaseServer.begin('influxdb');
});
afterAll(() => server.end());

const forwardedTo = async (source: ForwardedStore, name: string) => {
  source.store.flush();
  const forwarder = forwarding(source.path, { url: server.url, name });
  await until('all is forwarded', () => isUpToDate(forwarder));
  return forwarder;
};

describe('FC-19: 350 and 350.5 are different types', () => {
  it('a pressure is always a float, and where there is none there is only its flag', async () => {
    const source = new ForwardedStore();
    source.sample(100, 350);
    source.sample(101, 350.5);
    source.sample(102, 351);
    source.sample(103, NaN, Flag.overRange);
    source.sample(104, 349);
    await forwardedTo(source, 'types');
    expect(await server.rows('types', 'SELECT pressure_bar, flags FROM samples')).toMatchObject([
      { pressure_bar: 350, flags: null }, { pressure_bar: 350.5, flags: null }, { pressure_bar: 351, flags: null }, { pressure_bar: null, flags: Flag.overRange }, { pressure_bar: 349, flags: null },
    ]);
    const types = await server.rows('types', 'SHOW FIELD KEYS FROM samples');
    expect(types).toEqual([{ fieldKey: 'flags', fieldType: 'integer' }, { fieldKey: 'pressure_bar', fieldType: 'float' }]);
  });

  it('a number that cannot be trusted is not shown as a pressure; one at the end of the range is', async () => {
    const source = new ForwardedStore();
    source.sample(100, 1200, Flag.implausible);
    source.sample(101, 600, Flag.saturated);
    source.sample(102, Infinity, 0);
    source.sample(103, NaN, 0);
    await forwardedTo(source, 'trust');
    expect(await server.rows('trust', 'SELECT pressure_bar, flags FROM samples')).toMatchObject([
      { pressure_bar: null, flags: Flag.implausible }, { pressure_bar: 600, flags: Flag.saturated }, { pressure_bar: null, flags: Flag.unreadable }, { pressure_bar: null, flags: Flag.unreadable },
    ]);
  });
});

describe('FC-20: one bad point blocks or loses the batch', () => {
  // The 500th of the lines, by its pressure.
  const bad = (line: string) => line.includes('pressure_bar=666 ');
  const storeWithOneBad = () => {
    const source = new ForwardedStore();
    for (let i = 0; i < 1000; i++) source.sample(100 + i / 100, i === 500 ? 666 : 500 + i / 1000);
    source.store.flush();
    return source;
  };
  const refusedOf = (source: ForwardedStore) => readFileSync(`${source.path}.refused`, 'utf8').trim().split('\n').map((line) => JSON.parse(line) as { line: string; why: string });

  it('a partial write costs the bad point only', async () => {
    const source = storeWithOneBad();
    const fake = await FakeServer.begin((lines) => {
      if (!lines.some(bad)) return { status: 204 };
      for (const line of lines) if (!bad(line)) fake.stored.push(line);
      return { status: 400, body: '{"error":"partial write: field type conflict: input field \\"pressure_bar\\" on measurement \\"samples\\" is type float, already exists as type integer dropped=1"}' };
    });
    const forwarder = forwarding(source.path, { url: fake.url });
    await until('all is forwarded', () => isUpToDate(forwarder));
    expect(forwarder.state()).toMatchObject({ rejected: 1, delivered: 999 });
    expect(new Set(fake.stored).size).toBe(999);
    expect(refusedOf(source)).toMatchObject([{ line: expect.stringContaining('pressure_bar=666 ') as string, why: expect.stringContaining('already exists as type integer') as string }]);
    expect(forwarder.notices().leftOut).toContain('1 points were refused (400, partial write: field type conflict');
    source.samples(200, 100);
    await until('what comes later is forwarded', () => isUpToDate(forwarder));
    expect(new Set(fake.stored).size).toBe(1099);
  });

  it('a batch that is refused whole is searched for the bad point', async () => {
    const source = storeWithOneBad();
    const fake = await FakeServer.begin((lines) => (lines.some(bad) ? { status: 400, body: '{"error":"unable to parse"}' } : { status: 204 }));
    const forwarder = forwarding(source.path, { url: fake.url });
    await until('all is forwarded', () => isUpToDate(forwarder));
    expect(forwarder.state()).toMatchObject({ rejected: 1, delivered: 999 });
    expect(fake.stored.length).toBe(999);
    source.samples(200, 100);
    await until('what comes later is forwarded', () => isUpToDate(forwarder));
    expect(fake.stored.length).toBe(1099);
  });

  it('a refusal for good that comes as 500 is not tried for ever', async () => {
    const source = new ForwardedStore();
    source.samples(100, 1000);
    let old = true;
    const fake = await FakeServer.begin((lines) => (old ? { status: 500, body: `{"error":"points beyond retention policy dropped=${lines.length}"}` } : { status: 204 }));
    const forwarder = forwarding(source.path, { url: fake.url });
    await until('all is given up', () => isUpToDate(forwarder));
    expect(forwarder.state()).toMatchObject({ rejected: 1000, delivered: 0 });
    expect(refusedOf(source).length).toBe(1000);
    old = false;
    source.samples(200, 100);
    await until('what comes later is forwarded', () => isUpToDate(forwarder));
    expect(fake.stored.length).toBe(100);
  });

  it('a server that is unwell for a while loses nothing', async () => {
    const source = storeWithOneBad();
    let answers = 0;
    const fake = await FakeServer.begin(() => (answers++ < 5 ? { status: [500, 503, 429, 502, 504][answers - 1] ?? 500, body: '{"error":"timeout"}' } : { status: 204 }));
    const forwarder = forwarding(source.path, { url: fake.url });
    await until('all is forwarded', () => isUpToDate(forwarder));
    expect(forwarder.state()).toMatchObject({ rejected: 0, delivered: 1000 });
    expect(fake.stored.length).toBe(1000);
  });

  it('a real database that refuses one type takes the rest', async () => {
    const source = new ForwardedStore();
    await fetch(new URL('/query?q=CREATE+DATABASE+conflict', server.url), { method: 'POST' });
    const shard = (morning + 100_000) * 1e6;
    await fetch(new URL('/write?db=conflict', server.url), { method: 'POST', body: `samples,bench=other flags="text" ${shard}` });
    for (let i = 0; i < 1000; i++) source.sample(100 + i / 100, i === 500 ? NaN : 500 + i / 1000, i === 500 ? Flag.unreadable : 0);
    const forwarder = await forwardedTo(source, 'conflict');
    expect(forwarder.state()).toMatchObject({ rejected: 1, delivered: 999 });
    expect(await server.rows('conflict', 'SELECT count(pressure_bar), sum(pressure_bar) FROM samples')).toMatchObject([{ count: 999 }]);
    expect(refusedOf(source)[0]?.why).toContain('field type conflict');
  });
});

describe('FC-21: timestamp precision mistakes', () => {
  it('a stamp is exact to the µs', async () => {
    const source = new ForwardedStore('bench 1', 0, 1_700_000_000_123);
    source.sample(0, 1);
    source.sample(0.000457, 2);
    await forwardedTo(source, 'precision');
    expect(await server.rows('precision', 'SELECT pressure_bar FROM samples')).toEqual([{ time: 1_700_000_000_123_000, pressure_bar: 1 }, { time: 1_700_000_000_123_457, pressure_bar: 2 }]);
  });

  it('readings of a time before the clock was set, or after, are not sent and are counted', async () => {
    const source = new ForwardedStore('bench 1', 0, 1_700_000);
    source.samples(0, 50);
    source.segment(10, Date.now() + 3 * 86_400_000);
    source.samples(10, 20);
    source.segment(20, morning);
    source.samples(20, 30);
    const forwarder = await forwardedTo(source, 'clock');
    expect(forwarder.state()).toMatchObject({ rejected: 70, delivered: 30 });
    expect(forwarder.notices().leftOut).toContain('70 readings were not sent because the clock of this computer was wrong');
    expect(await server.rows('clock', 'SELECT count(pressure_bar) FROM samples')).toMatchObject([{ count: 30 }]);
  });

  it('nothing is sent, and nothing given up, while the clock of the computer is not set', async () => {
    const source = new ForwardedStore();
    source.samples(100, 100);
    let now = Date.UTC(1970, 0, 1, 0, 2);
    const forwarder = forwarding(source.path, { url: server.url, name: 'unset', now: () => now });
    await until('it waits', () => forwarder.state().trouble === 'the clock of this computer is not set yet');
    expect(forwarder.state()).toMatchObject({ delivered: 0, rejected: 0, waiting: 100 });
    now = morning + 1_000_000;
    await until('all is forwarded', () => isUpToDate(forwarder));
    expect(forwarder.state()).toMatchObject({ delivered: 100, rejected: 0 });
  });
});

describe('FC-22: same series, same stamp', () => {
  it.each([['0.5 ms apart', 0.0005], ['all at one moment', 0]])('1,000 samples %s are 1,000 points, in order', async (_what, step) => {
    const source = new ForwardedStore();
    for (let i = 0; i < 1000; i++) source.sample(100 + Math.round(i * step * 1e6) / 1e6, i);
    const name = `apart-${step * 1e4}`;
    await forwardedTo(source, name);
    const rows = await server.rows(name, 'SELECT pressure_bar FROM samples');
    expect(rows.map(({ pressure_bar: p }) => p)).toEqual(Array.from({ length: 1000 }, (_, i) => i));
  });

  it('at a resolution of 1 ms they are 1,000 points too, and sending them again changes nothing', async () => {
    const coarse = await DatabaseServer.begin('victoria-metrics');
    try {
      const source = new ForwardedStore();
      for (let i = 0; i < 1000; i++) source.sample(100 + i / 2000, i);
      source.store.flush();
      for (let time = 0; time < 2; time++) {
        const forwarder = forwarding(source.path, { url: coarse.url });
        await until('all is forwarded', () => isUpToDate(forwarder));
        expect(forwarder.state()).toMatchObject({ delivered: 1000, rejected: 0 });
        await forwarder.stop();
        source.store.db.prepare("DELETE FROM facts WHERE key LIKE 'forwarded to %'").run();
        const found = await coarse.samplesOf('rig', 'bench 1');
        expect(found.map(({ pressure }) => pressure).sort((a, b) => a - b)).toEqual(Array.from({ length: 1000 }, (_, i) => i));
        for (const { stamp, pressure } of found) expect(Math.abs(stamp - (morning + 100_000 + pressure / 2))).toBeLessThanOrEqual(20);
      }
    } finally {
      await coarse.end();
    }
  });
});

describe('FC-24: the clock steps', () => {
  it.each([['back by an hour', -3600], ['on by an hour', 3600]])('%s, and no reading takes the place of another', async (_what, step) => {
    const source = new ForwardedStore();
    source.samples(100, 3000);
    source.segment(130, morning + 130_000 + step * 1000);
    source.samples(130, 3000);
    // Set right again before the doubled hour is over, and past it at last.
    source.segment(160, morning + 160_000);
    source.samples(160, 1000);
    const name = `step-${step}`;
    const forwarder = await forwardedTo(source, name);
    expect(forwarder.state().rejected).toBe(0);
    const byStamp = (a: { stamp: number }, b: { stamp: number }) => a.stamp - b.stamp;
    expect(await server.samplesOf(name, 'bench 1')).toEqual(source.expected().sort(byStamp).map(({ stamp, pressure }) => ({ stamp: expect.closeTo(stamp, 1) as number, pressure })));
    const lanes = await server.rows(name, 'SHOW TAG VALUES FROM samples WITH KEY = lane');
    expect(lanes.map(({ value }) => value)).toEqual(['1']);
  });

  it('back over readings of the same moments: they lie in a lane of their own', async () => {
    const source = new ForwardedStore();
    source.samples(100, 3000);
    source.segment(130, morning + 110_000);
    source.samples(130, 3000);
    await forwardedTo(source, 'doubled');
    // The last two of the doubled time come within 20 ms after the newest of the first lane, and stay in it.
    expect(await server.rows('doubled', 'SELECT count(pressure_bar) FROM samples GROUP BY lane')).toMatchObject([{ lane: '', count: 4002 }, { lane: '1', count: 1998 }]);
    expect((await server.samplesOf('doubled', 'bench 1')).length).toBe(6000);
  });
});
