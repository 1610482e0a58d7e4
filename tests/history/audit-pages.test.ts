import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { auditChain, auditKindOf, auditPage, auditTable } from '../../src/history/audit-pages.js';
import { openStore, type Store } from '../../src/records/store.js';

let folder: string;
let store: Store;
let now = Date.UTC(2027, 2, 1, 9);
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'audit-pages-'));
  store = openStore(join(folder, 'records.sqlite'), { software: 'dwellkeeper test', now: () => now }).store;
});
afterEach(() => {
  store.close();
  rmSync(folder, { recursive: true, force: true });
});

const everything = { limit: 50 };

describe('entries about changes, page by page', () => {
  it.each([
    ['plan two-wire-dn12', 'plan'], ['plan choice of plan', 'plan'], ['choice of plan', 'choice of plan'], ['thresholds', 'thresholds'], ['calibration of pressure', 'calibration'],
    ['channel pressure', 'channel'], ['job', 'job'], ['people', 'people'], ['something of a later version', 'other'],
  ] as const)('%s is about %s', (subject, kind) => expect(auditKindOf(subject)).toBe(kind));

  it('tell what of a calibration or channel differs from the entry before it', () => {
    const calibration = (content: object | null) => store.addAudit({ who: 'file on disk', subject: 'calibration of pressure', what: 'was changed in the bench file', details: { sha256: 'x', content } });
    calibration({ certificate: 'K-1', due: '2027-03-01', points: [{ reads: 0, is: 0.1 }] });
    store.addAudit({ who: 'file on disk', subject: 'channel pressure', what: 'is known from here on', details: { content: { range: { lower: 0, upper: 1000 } } } });
    calibration({ certificate: 'K-2', due: '2028-03-01', points: [{ reads: 0, is: 0.1 }, { reads: 500, is: 500.2 }] });
    calibration(null);
    expect(auditPage(store, everything).entries.map(({ number, changes }) => [number, changes.map(({ key, from, to }) => `${key}: ${from} > ${to}`)])).toEqual([
      [4, ['certificate: K-2 > not set', 'due: 2028-03-01 > not set', 'points.1.is: 0.1 > not set', 'points.1.reads: 0 > not set', 'points.2.is: 500.2 > not set', 'points.2.reads: 500 > not set']],
      [3, ['certificate: K-1 > K-2', 'due: 2027-03-01 > 2028-03-01', 'points.2.is: not set > 500.2', 'points.2.reads: not set > 500']],
      [2, []],
      [1, []],
    ]);
  });

  it('name the run that a job went to, and none where it was put aside or changed before', () => {
    const channel = store.channel('north bench', 'pressure', 'bar').id;
    const segment = store.beginSegment(channel, { time: 0, wall: now });
    const thresholds = store.keepVersion('thresholds', {});
    const keyed = (order: string) => store.addAudit({ who: 'J. Doe', subject: 'job', what: 'keyed in for the next run', details: { order } });
    const begins = (order: string) => {
      now += 60_000;
      const time = (now - Date.UTC(2027, 2, 1, 9)) / 1000;
      segment.append(time, 0, 0);
      segment.flush();
      const run = store.openRun({ channel, from: time, plan: null, thresholds, instrument: null });
      store.addEntry(run, { kind: 'job', order }, 'J. Doe');
      store.finishRun(run, { to: time, outcome: { verdict: 'inconclusive', findings: [], cycles: [], events: [] } as never });
      now += 600_000;
    };
    keyed('A-1');
    begins('A-1');
    keyed('A-2');
    now += 1000;
    keyed('A-3');
    begins('A-3');
    keyed('A-2');
    expect(auditPage(store, { ...everything, kind: 'job' }).entries.map(({ number, run }) => [number, run])).toEqual([[4, null], [3, 2], [2, null], [1, 1]]);
  });

  it('look at a bounded number for one answer and say where to go on; nothing is left out and nothing told twice', () => {
    // In one go: the disk need not be waited for each time.
    store.db.transaction(() => {
      for (let i = 1; i <= 350; i++) {
        now += 1000;
        store.addAudit({ who: i % 50 === 0 ? 'M. Roe' : 'J. Doe', subject: 'people', what: `change ${i}` });
      }
    })();
    const search = { limit: 50, who: 'roe' };
    const found: number[] = [];
    const looked: number[] = [];
    for (let before: number | null | undefined; before !== null; ) {
      const page = auditPage(store, { ...search, before });
      found.push(...page.entries.map(({ number }) => number));
      looked.push(page.looked);
      before = page.before;
    }
    expect(found).toEqual([350, 300, 250, 200, 150, 100, 50]);
    expect(looked).toEqual([300, 50]);
    // Pages that are just full end where the entries do.
    expect(auditPage(store, { limit: 100, before: 101 })).toMatchObject({ before: null, looked: 100, onRecord: 350 });
    const day = auditPage(store, { limit: 5, from: now - 2000, to: now - 1000 });
    expect([day.entries.map(({ number }) => number), day.before]).toEqual([[349, 348], null]);
    expect(auditTable(store, { text: 'change 350' }).trim().split('\r\n').map((line) => line.split(',')[0])).toEqual(['number', '350']);
    expect(auditChain(store)).toMatchObject({ entries: 350, breaches: [], more: 0 });
  });
});
