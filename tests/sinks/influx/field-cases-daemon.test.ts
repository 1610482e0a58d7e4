import { statSync } from 'node:fs';
import Database from 'better-sqlite3';
import { describe, expect, it } from 'vitest';
import { until } from '../../server/until.js';
import { FakeServer } from './fake-server.js';
import { forwarding, ForwardedStore, isUpToDate } from './forwarded-store.js';

describe('FC-26: disk full, seen from the forwarder', () => {
  it('goes on sending when it cannot note how far it is, and notes it later', async () => {
    const source = new ForwardedStore();
    source.samples(100, 500);
    const fake = await FakeServer.begin(() => ({ status: 204 }));
    const warnings: string[] = [];
    const holder = new Database(source.path);
    holder.exec('BEGIN IMMEDIATE');
    const forwarder = forwarding(source.path, { url: fake.url, log: { info: () => undefined, warn: (_what: unknown, text?: string) => warnings.push(text ?? '') } });
    await until('all is forwarded', () => isUpToDate(forwarder) && warnings.length > 0);
    expect(forwarder.state()).toMatchObject({ delivered: 500, reachable: true });
    const noted = () => source.store.db.prepare<[], string>("SELECT value FROM facts WHERE key LIKE 'forwarded to %'").pluck().get();
    expect(noted()).toBeUndefined();
    holder.exec('ROLLBACK');
    holder.close();
    await until('it is noted', () => noted()?.includes('"samples":{"1":500}') === true);
    expect(warnings).toEqual([expect.stringContaining('how far the store is forwarded could not be noted')]);
  });
});

describe('FC-28: each reconnect leaks a listener', () => {
  it('a thousand failures leave nothing behind', async () => {
    const source = new ForwardedStore();
    source.samples(100, 10);
    let attempts = 0;
    const closed = await FakeServer.begin(() => ({ status: 204 }));
    closed.end();
    const forwarder = forwarding(source.path, {
      url: closed.url,
      pace: { look: 1, firstRetry: 0, longestRetry: 0, settle: 0 },
      now: () => {
        attempts++;
        return Date.now();
      },
    });
    // Other tests of this process may still be closing what is theirs: only what is left over counts.
    const resources = () => process.getActiveResourcesInfo().filter((kind) => /TCP|Timeout|GetAddr/.test(kind)).length;
    await until('ten attempts', () => attempts > 40);
    const early = resources();
    await until('a thousand attempts', () => attempts > 4000);
    expect(forwarder.state().reachable).toBe(false);
    expect(resources()).toBeLessThanOrEqual(early + 3);
    await forwarder.stop();
  });
});

describe('FC-29: a reader that is always open keeps the log from being reset', () => {
  it('the log is emptied beside a running forwarder', async () => {
    const source = new ForwardedStore();
    source.samples(100, 20_000, 1000);
    const fake = await FakeServer.begin(() => ({ status: 204 }));
    const forwarder = forwarding(source.path, { url: fake.url });
    await until('all is forwarded', () => isUpToDate(forwarder));
    expect(statSync(`${source.path}-wal`).size).toBeGreaterThan(0);
    source.store.tick(1000);
    expect(statSync(`${source.path}-wal`).size).toBe(0);
    source.samples(2000, 100);
    await until('it goes on', () => isUpToDate(forwarder));
    expect(forwarder.state()).toMatchObject({ delivered: 20_100, dropped: 0 });
  });
});
