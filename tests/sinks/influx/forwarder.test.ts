import { chmodSync, existsSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { pino } from 'pino';
import { standardThresholds } from '../../../src/core/thresholds.js';
import { Connection } from '../../../src/sinks/influx/connection.js';
import { BenchForwarding } from '../../../src/sinks/influx/forward-bench.js';
import { outcomeOf, emptyFolder } from '../../records/example-store.js';
import { until } from '../../server/until.js';
import { FakeServer } from './fake-server.js';
import { forwarding, ForwardedStore, isUpToDate, morning } from './forwarded-store.js';

const valueIn = (line: string, field: string) => new RegExp(`[ ,]${field}=([^ ,]+)`).exec(line)?.[1];

describe('a forwarder', () => {
  it('sends events, marks, runs, verdicts and findings, each with bench, channel and plan', async () => {
    const source = new ForwardedStore('north hall, 2');
    const { store, channel } = source;
    source.samples(100, 300);
    const plan = store.keepVersion('plan', { plan: 'two-wire DN12 proof', testPressure: 550 });
    const thresholds = store.keepVersion('thresholds', standardThresholds);
    const run = store.openRun({ channel, from: 100, plan, thresholds, instrument: null });
    store.addEvents(channel, [{ kind: 'spike', at: 101.25, height: 7.1, width: 0.04, note: 'said "so"' }], run);
    store.addEvents(channel, [{ kind: 'glitch', at: 102, height: -3 }]);
    store.finishRun(run, { to: 102.99, outcome: outcomeOf('pass') });
    store.addEntry(run, { kind: 'note', text: 'not for the database' }, 'J. Doe');
    store.addEntry(run, { kind: 'judged-again', plan, thresholds, outcome: { verdict: 'fail' } }, 'J. Doe');
    store.db.prepare("INSERT INTO marks (channel, time, kind, text) VALUES (?, 103, 'signal-lost', 'cable')").run(channel);
    const fake = await FakeServer.begin(() => ({ status: 204 }));
    const forwarder = forwarding(source.path, { url: fake.url });
    await until('all is forwarded', () => isUpToDate(forwarder) && fake.stored.some((line) => line.startsWith('verdicts')));
    const rest = fake.stored.filter((line) => !line.startsWith('samples'));
    const where = 'bench=north\\ hall\\,\\ 2,channel=pressure';
    const planned = `${where},plan=two-wire\\ DN12\\ proof`;
    const at = (time: number) => (morning + time * 1000) * 1000;
    expect(rest).toEqual([
      `events,${planned},kind=spike number=1i,run=${run}i,height_bar=7.1,width_s=0.04,note="said \\"so\\"" ${at(101.25)}`,
      `events,${where},kind=glitch number=2i,height_bar=-3 ${at(102)}`,
      `marks,${where},kind=signal-lost number=1i,text="cable" ${at(103)}`,
      expect.stringMatching(new RegExp(`^runs,.*,verdict=pass,state=finished run=${run}i,from_ms=${at(100) / 1000}i,duration_s=2\\.9\\d*,cycles=0i,strokes=0i,events=1i,software="test" ${at(102.99)}$`)),
      `verdicts,${planned},source=run run=${run}i,pass=1i,fail=0i,inconclusive=0i ${at(102.99)}`,
      expect.stringMatching(/^findings,.*,rule=minimum,outcome=met,unit=bar run=1i,cycle=1i,measured=548\.2,limit=530,sentence="lowest pressure/),
      `verdicts,${planned},source=judged-again run=${run}i,pass=0i,fail=1i,inconclusive=0i ${morning * 1000}`,
    ]);
    expect(fake.stored.length - rest.length).toBe(300);
  });

  it('sends all that is older than the backlog thinned, and says so', async () => {
    const source = new ForwardedStore();
    source.samples(100, 3000, 10);
    source.samples(20_000, 500, 10);
    source.store.compact();
    const fake = await FakeServer.begin(() => ({ status: 204 }));
    const forwarder = forwarding(source.path, { url: fake.url, backlog: 10_000 });
    await until('all is forwarded', () => isUpToDate(forwarder));
    const { thinned, delivered } = forwarder.state();
    expect(thinned + delivered).toBe(3500);
    // 31 intervals of 10 s have at most four readings each, and so has each of the few blocks not merged yet; the newest 50 s are whole.
    expect(delivered).toBeLessThanOrEqual(500 + 4 * (31 + 10));
    expect(delivered).toBeGreaterThan(500 + 2 * 30);
    expect(forwarder.notices().leftOut).toContain(`${thinned} readings of the oldest backlog were left out`);
    const sent = fake.stored.map((line) => Number(valueIn(line, 'pressure_bar')));
    const all = source.expected().map(({ pressure }) => pressure);
    expect(Math.max(...sent)).toBe(Math.max(...all));
    expect(Math.min(...sent)).toBe(Math.min(...all));
  });

  it('counts and tells what was removed or is damaged before it could be sent', async () => {
    const source = new ForwardedStore();
    source.samples(100, 1000);
    const { db } = source.store;
    const block = db.prepare<[number], number>('SELECT id FROM blocks WHERE earliest = ?').pluck();
    db.exec('PRAGMA foreign_keys = OFF');
    for (const earliest of [100, 101, 104]) db.prepare('DELETE FROM blocks WHERE id = ?').run(block.get(earliest));
    db.prepare("UPDATE contents SET samples = x'0102030405' WHERE block = ?").run(block.get(107));
    const fake = await FakeServer.begin(() => ({ status: 204 }));
    const forwarder = forwarding(source.path, { url: fake.url });
    await until('all is forwarded', () => isUpToDate(forwarder) && forwarder.state().delivered > 0);
    expect(forwarder.state()).toMatchObject({ delivered: 600, dropped: 400, rejected: 0 });
    expect(forwarder.notices().leftOut).toMatch(/300 readings had been removed from the store.*100 readings are damaged/);
  });

  it('sends again what was not settled when the database died, and no more', async () => {
    const source = new ForwardedStore();
    source.samples(100, 1000);
    const fake = await FakeServer.begin(() => ({ status: 204 }));
    let up = true;
    const forwarder = forwarding(source.path, {
      settle: 3_600_000,
      database: {
        prepare: () => Promise.resolve({ engine: 'influxdb' }),
        write: (lines) => {
          if (!up) return Promise.resolve({ kind: 'later', why: 'nothing listens at this address', gone: true });
          fake.stored.push(...lines);
          return Promise.resolve({ kind: 'delivered' });
        },
      },
    });
    await until('all is forwarded', () => isUpToDate(forwarder));
    up = false;
    source.samples(200, 10);
    await until('the forwarder notices', () => !forwarder.state().reachable);
    expect(forwarder.state().waiting).toBe(1010);
    up = true;
    await until('all is forwarded', () => isUpToDate(forwarder));
    expect(fake.stored.length).toBe(2010);
    expect(new Set(fake.stored).size).toBe(1010);
  });

  it('begins anew with a store that was set aside and begun anew', async () => {
    const first = new ForwardedStore();
    first.samples(100, 500);
    const second = new ForwardedStore();
    second.samples(100, 200);
    const fake = await FakeServer.begin(() => ({ status: 204 }));
    for (const source of [first, second]) {
      const forwarder = forwarding(source.path, { url: fake.url });
      await until('all is forwarded', () => isUpToDate(forwarder));
      expect(forwarder.state().delivered).toBe(source.count);
    }
  });

  it('writes below the path of its address, as the cluster of VictoriaMetrics wants it', async () => {
    const source = new ForwardedStore();
    source.samples(100, 100);
    const fake = await FakeServer.begin(() => ({ status: 204 }));
    const forwarder = forwarding(source.path, { url: new URL('/insert/0/influx/', fake.url) });
    await until('all is forwarded', () => isUpToDate(forwarder));
    expect([...fake.paths].sort()).toEqual(['/insert/0/influx/query', '/insert/0/influx/write']);
    expect(fake.stored.length).toBe(100);
  });

  it('takes a smaller part where one is too large', async () => {
    const source = new ForwardedStore();
    source.samples(100, 1000);
    const fake = await FakeServer.begin((lines) => ({ status: lines.length > 300 ? 413 : 204 }));
    const forwarder = forwarding(source.path, { url: fake.url });
    await until('all is forwarded', () => isUpToDate(forwarder));
    expect(fake.stored.length).toBe(1000);
  });
});

describe('the forwarding of a bench', () => {
  it('logs in, finds a changed password without a restart, and never says it', async () => {
    const source = new ForwardedStore();
    source.samples(100, 100);
    const passwordFile = join(emptyFolder(), 'password');
    writeFileSync(passwordFile, 'wrong-word\n');
    chmodSync(passwordFile, 0o600);
    const wanted = `Basic ${Buffer.from('bench7:right-word').toString('base64')}`;
    const fake: FakeServer = await FakeServer.begin(() => (fake.authorization === wanted ? { status: 204 } : { status: 401, body: '{"error":"authorization failed"}' }));
    const said: string[] = [];
    const log = pino({ level: 'trace' }, { write: (line: string) => said.push(line) });
    const connection = new Connection({
      url: fake.url, database: 'rig', login: () => ({ username: 'bench7', password: 'wrong-word' }),
    });
    expect(await connection.write(['m v=1 1'], 'influxdb')).toEqual({ kind: 'closed', why: 'it refuses the login (401, authorization failed)' });
    const notices: (string | null)[] = [];
    const bench = new BenchForwarding(
      {
        bench: 'bench 1', store: source.path, log, listen: () => () => undefined, notice: (_subject, text) => notices.push(text),
        settings: { url: fake.url, database: 'rig', username: 'bench7', passwordFile, backlog: 86_400, thinnedTo: 10, pointsPerSecond: 20_000 },
      },
      'bench.yaml',
    );
    await until('it is refused', () => bench.state().trouble?.includes('authorization failed') === true);
    writeFileSync(passwordFile, 'right-word\n');
    await until('all is forwarded', () => bench.state().waiting === 0);
    await bench.stop();
    expect(fake.stored.length).toBe(100);
    expect(said.length).toBeGreaterThan(0);
    expect([...said, ...notices].join(' ')).not.toMatch(/wrong-word|right-word/);
    expect(existsSync(`${source.path}.refused`)).toBe(false);
  });

  it('tells the page how far behind it is', async () => {
    const source = new ForwardedStore();
    source.samples(100, 100);
    const forwarder = forwarding(source.path, { url: new URL('http://127.0.0.1:9'), now: () => performance.timeOrigin + performance.now() * 100 });
    await until('it tells', () => forwarder.notices().behind !== null);
    forwarder.state();
    expect(forwarder.notices().behind).toBe(
      'the database http://127.0.0.1:9 (rig) gets no data: nothing listens at this address; what is recorded is safe in the store and is sent later, up to a minute behind',
    );
  });
});
