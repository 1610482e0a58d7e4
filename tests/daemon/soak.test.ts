import { existsSync, mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { soak } from './soak.js';

// Weeks of it: `npm run soak`.
it('three simulated days: every run is on record and sound, no file stays open, old idle time is given up', { timeout: 240_000 }, async () => {
  const folder = mkdtempSync(join(existsSync('/dev/shm') ? '/dev/shm' : tmpdir(), 'soak-'));
  const { bench, days } = await soak({ days: 3, runsPerDay: 1, idleSpacing: 300, folder });
  try {
    const store = bench.daemon.records ?? expect.fail('no store');
    const runs = store.listRuns({ limit: 100 });
    expect(runs.map(({ number, verdict, state }) => `${number} ${verdict} ${state}`)).toEqual([3, 2, 1].map((number) => `${number} pass finished`));
    expect(verifyLedger(store)).toMatchObject({ intact: true, breaches: [], tracesRemoved: 0 });
    // The store, its log, the log's index and the lock, each at most a few times.
    const files = days.map(({ files }) => files);
    expect(files).toEqual([files[0], files[0], files[0]]);
    expect(files[0]).toBeGreaterThan(0);
    expect(store.db.pragma('integrity_check', { simple: true })).toBe('ok');
    const all = store.traceWindow(1, -Infinity, Infinity).time.length;
    expect(all).toBeLessThan(days.at(-1)?.readings ?? 0);
    for (const { number } of runs) expect(store.traceOfRun(number).time.length).toBeGreaterThan(300);
    expect(bench.daemon.feed.health()).toMatchObject({ recording: true, notices: [] });
  } finally {
    bench.clear();
  }
});
