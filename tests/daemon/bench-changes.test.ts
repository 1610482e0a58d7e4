import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { removePerson } from '../../src/access/people-file.js';
import type { AuditEntry } from '../../src/records/audit.js';
import { openStore } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { GuardedBench, planText } from '../access/guarded-bench.js';
import { until } from '../server/until.js';

let bench: GuardedBench;
beforeEach(async () => {
  bench = await new GuardedBench().start();
});
afterEach(() => bench.stop());

const entries = async (cookie: string, query = ''): Promise<AuditEntry[]> => {
  const answer = await bench.ask('GET', `/api/benches/north/audit${query}`, { cookie });
  return ((await answer.json()) as { entries: AuditEntry[] }).entries;
};
const about = async (cookie: string, subject: string): Promise<readonly (readonly [string, string])[]> =>
  (await entries(cookie, `?subject=${encodeURIComponent(subject)}`)).map(({ who, what }) => [who, what]);

describe('who changed what at a bench', () => {
  it('is written down for jobs, plans, people and files edited by hand; the name is that of the session', async () => {
    const cookies = await bench.signInAll();
    expect((await bench.ask('PUT', '/api/benches/north/job', { cookie: cookies.operator, body: { job: { order: 'A-1' }, who: 'somebody else' } })).status).toBe(200);
    expect((await bench.ask('DELETE', '/api/benches/north/job', { cookie: cookies.operator })).status).toBe(200);
    expect(await about(cookies.engineer, 'job')).toEqual([['J. Doe', 'put aside before the next run'], ['J. Doe', 'keyed in for the next run']]);

    writeFileSync(bench.path('plan.yaml'), planText.replace('3 s', '4 s'));
    await until('the edited plan is written down', async () => (await about(cookies.engineer, 'plan plan')).length === 2);
    expect((await about(cookies.engineer, 'plan plan'))[0]?.[0]).toBe('file on disk');

    removePerson(bench.path('people.yaml'), 'J. Doe');
    await until('the change of people is written down', async () => (await about(cookies.engineer, 'people')).length === 2);
    expect((await about(cookies.engineer, 'people'))[0]).toEqual(['file on disk', 'J. Doe was removed']);
    expect((await bench.ask('GET', '/api/benches', { cookie: cookies.operator })).status).toBe(401);

    expect((await bench.ask('GET', '/api/benches/north/audit?limit=0', { cookie: cookies.engineer })).status).toBe(400);
    const first = await bench.ask('GET', '/api/benches/north/audit?limit=2', { cookie: cookies.engineer });
    const page = (await first.json()) as { entries: AuditEntry[]; before: number };
    const next = await entries(cookies.engineer, `?limit=500&before=${page.before}`);
    expect([...page.entries, ...next].map(({ number }) => number)).toEqual((await entries(cookies.engineer)).map(({ number }) => number));
    expect(JSON.stringify(next)).not.toContain('$scrypt$');

    await bench.bench.stop();
    const { store } = openStore(bench.path('records.sqlite'), { software: 'dwellkeeper test', readOnly: true });
    expect(verifyLedger(store)).toMatchObject({ intact: true, breaches: [] });
    store.close();
    await bench.begin();
  });

  it('finds what was changed while the program was not running, and nothing where nothing was', async () => {
    const numbers = async () => (await entries(await bench.signIn('engineer'))).map(({ subject }) => subject);
    const before = await numbers();
    await bench.bench.stop();
    await bench.begin();
    expect(await numbers()).toEqual(before);
    await bench.bench.stop();
    const text = readFileSync(bench.path('bench.yaml'), 'utf8');
    writeFileSync(bench.path('bench.yaml'), `${text}    calibration:\n      certificate: K-2027-04\n      date: 2027-03-01\n      due: 2030-03-01\n      serial: T-4711\n      uncertainty: 0.8 bar\n`);
    await bench.begin();
    expect(await numbers()).toEqual(['calibration of pressure', ...before]);
  });

  it('a list of people that was broken leaves the one before it in force, and the page says so', async () => {
    const cookie = await bench.signIn('operator');
    writeFileSync(bench.path('people.yaml'), 'people: [oops\n');
    await until('the page says so', async () => JSON.stringify(await (await bench.ask('GET', '/api/benches', { cookie })).json()).includes('the changed file is not used, the one before it stays in force'));
    expect((await bench.signIn('viewer')).length).toBeGreaterThan(40);
    rmSync(bench.path('people.yaml'));
  });
});
