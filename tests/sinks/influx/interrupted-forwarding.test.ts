import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { randomFor } from '../../../simulators/random.js';
import { Connection } from '../../../src/sinks/influx/connection.js';
import { bundledEntry } from '../../records/bundled-entry.js';
import { until } from '../../server/until.js';
import { DatabaseServer } from '../../../simulators/fleet/database-server.js';
import { forwarding, ForwardedStore, isUpToDate } from './forwarded-store.js';

let entry: Awaited<ReturnType<typeof bundledEntry>>;
beforeAll(async () => {
  entry = await bundledEntry('tests/sinks/influx/endless-forwarder.ts');
});
afterAll(() => {
  entry.remove();
});

/** Repetitions: few in the suite, more with `INTERRUPTIONS=20`. */
const rounds = Number(process.env['INTERRUPTIONS'] ?? 2);

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

describe.each(['influxdb', 'victoria-metrics'] as const)('%s', (engine) => {
  let server: DatabaseServer;
  beforeAll(async () => {
    server = await DatabaseServer.begin(engine);
  });
  afterAll(() => server.end());

  /** Count, order, stamps and pressures of the database are those of the store. */
  async function expectTheSame(source: ForwardedStore, name: string): Promise<void> {
    const expected = source.expected();
    expect(expected.length).toBe(source.count);
    // VictoriaMetrics shows what it has taken some time after its yes, on a busy machine also after it was told to flush.
    await expect.poll(async () => (await server.samplesOf(name, source.bench)).length, { timeout: 30_000, interval: 200 }).toBe(expected.length);
    const got = await server.samplesOf(name, source.bench);
    expected.forEach(({ stamp, pressure }, i) => {
      const found = got[i];
      // The stores' clock counts in µs; VictoriaMetrics keeps whole ms.
      const near = engine === 'influxdb' ? 0.002 : 1;
      if (found?.pressure !== pressure || Math.abs(found.stamp - stamp) > near) expect.fail(`sample ${i} is ${JSON.stringify(found)}, not ${JSON.stringify({ stamp, pressure })}`);
    });
  }

  it('that is stopped and started at random has what the store holds', { timeout: 60_000 + rounds * 10_000 }, async () => {
    const source = new ForwardedStore();
    const forwarder = forwarding(source.path, { url: server.url, name: 'restarts', settle: 30_000 });
    const random = randomFor('restarts', 1);
    let time = 100;
    const record = (count: number) => {
      source.samples(time, count, 1000);
      time += count / 1000;
      source.store.tick(time);
    };
    for (let round = 0; round < rounds; round++) {
      for (let i = 0; i < 4; i++) {
        record(200 + Math.floor(random.uniform() * 3000));
        await pause(random.uniform() * 40);
      }
      await server.stop(random.uniform() < 0.5 ? 'SIGKILL' : 'SIGTERM');
      record(Math.floor(random.uniform() * 5000));
      await until('the forwarder notices', () => !forwarder.state().reachable);
      record(Math.floor(random.uniform() * 5000));
      await server.start();
      await pause(random.uniform() * 300);
    }
    source.store.flush();
    await until('all is forwarded', () => isUpToDate(forwarder));
    expect(forwarder.state()).toMatchObject({ rejected: 0, dropped: 0, thinned: 0, reachable: true });
    await expectTheSame(source, 'restarts');
  });

  it('that hangs and comes back has what the store holds', async () => {
    const source = new ForwardedStore();
    const forwarder = forwarding(source.path, { url: server.url, name: 'hangs', patience: 300 });
    source.samples(100, 3000, 1000);
    await until('some is forwarded', () => forwarder.state().delivered > 0);
    server.freeze();
    source.samples(103, 6000, 1000);
    await until('the forwarder notices', () => forwarder.state().trouble === 'it does not answer in time');
    source.samples(109, 3000, 1000);
    server.thaw();
    await until('all is forwarded', () => isUpToDate(forwarder));
    await expectTheSame(source, 'hangs');
  });

  it('has what the store holds when the forwarding program is killed again and again', { timeout: 60_000 + rounds * 10_000 }, async () => {
    const source = new ForwardedStore();
    const random = randomFor('kills', 1);
    let time = 100;
    let delivered = 0;
    for (let round = 0; round < rounds * 2; round++) {
      source.samples(time, 6000, 1000);
      time += 6;
      source.store.tick(time);
      const child = spawn(process.execPath, [entry.path, source.path, server.url.href, 'killed'], { stdio: ['ignore', 'pipe', 'inherit'] });
      const after = 1 + Math.floor(random.uniform() * 4000);
      for await (const line of createInterface({ input: child.stdout })) {
        const sent = Number(/\d+/.exec(line)?.[0]);
        if (sent < after || child.killed) continue;
        delivered += sent;
        child.kill('SIGKILL');
      }
      if (child.exitCode === null && child.signalCode === null) await once(child, 'exit');
      expect(child.signalCode).toBe('SIGKILL');
    }
    expect(delivered).toBeGreaterThan(0);
    const forwarder = forwarding(source.path, { url: server.url, name: 'killed' });
    await until('all is forwarded', () => isUpToDate(forwarder));
    // The rest only: what was acknowledged before the last kill was not forgotten.
    expect(forwarder.state().delivered).toBeLessThan(source.count);
    await expectTheSame(source, 'killed');
  });

  it('that is sent everything twice has it once', async () => {
    const source = new ForwardedStore();
    source.samples(100, 2500, 250);
    const first = forwarding(source.path, { url: server.url, name: 'twice' });
    await until('all is forwarded', () => isUpToDate(first));
    await first.stop();
    const target = new Connection({ url: server.url, database: 'twice', login: () => null }).target;
    const forgotten = source.store.db.prepare('DELETE FROM facts WHERE key = ?').run(`forwarded to ${target}`);
    expect(forgotten.changes).toBe(1);
    const second = forwarding(source.path, { url: server.url, name: 'twice' });
    await until('all is forwarded', () => isUpToDate(second));
    expect(second.state().delivered).toBe(2500);
    await expectTheSame(source, 'twice');
  });
});
