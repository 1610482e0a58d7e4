import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fastify from 'fastify';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { storeHistory } from '../../src/history/store-history.js';
import { openStore } from '../../src/records/store.js';
import { historyRoutes } from '../../src/server/history-routes.js';
import { bench, hose, recordSeason, season } from '../history/season.js';

const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-history-'));
const path = join(folder, 'records.sqlite');
const history = storeHistory({ store: path, software: 'test' });
const app = fastify();

beforeAll(() => {
  const { store } = openStore(path, { software: 'test' });
  recordSeason(store, season(3));
  store.close();
  historyRoutes(app, [{ bench, history }]);
});
afterAll(async () => {
  await app.close();
  await history.close();
  rmSync(folder, { recursive: true, force: true });
});

const get = (path: string, of = bench) => app.inject({ url: `/api/benches/${encodeURIComponent(of)}/history/${path}` });
const encoded = `plan=two-wire%20DN12%20proof&hose=${encodeURIComponent(hose)}`;

describe('asking for runs on record', () => {
  it.each([
    ['runs', 200],
    ['runs?order=A-101&limit=1', 200],
    ['runs?from=2027-03-01&to=2027-03-02', 200],
    ['runs/2', 200],
    ['runs/2/trace?columns=100', 200],
    ['groups', 200],
    [`statistics?${encoded}&measure=drop`, 200],
    ['runs/9', 404],
    ['runs/2/trace?from=900000&to=900001', 404],
    ['runs/x', 400],
    ['runs?limit=0', 400],
    ['runs?limit=201', 400],
    ['runs?result=passed', 400],
    ['runs?from=yesterday', 400],
    ['runs?ordre=1', 400],
    [`runs?text=${'x'.repeat(201)}`, 400],
    ['runs?order=1&order=2', 400],
    ['runs/2/trace?columns=5000', 400],
    ['runs/2/trace?from=now', 400],
    ['statistics', 400],
    [`statistics?${encoded}&measure=peak`, 400],
    [`statistics?${encoded}&baseline=3`, 400],
  ] as const)('%s is answered %i', async (path, status) => expect((await get(path)).statusCode).toBe(status));

  it('says what is wrong in a sentence that names the place, and what would be right', async () => {
    expect((await get('runs?result=passed')).json()).toMatchObject({ error: "result: 'passed' should be one of pass, fail, inconclusive, open" });
    expect((await get('runs?from=yesterday')).json()).toMatchObject({ error: expect.stringMatching(/^from: .*should be a day such as 2027-03-01/) as string });
    expect((await get('runs?ordre=1')).json()).toMatchObject({ error: expect.stringContaining('ordre') as string });
    expect((await get('runs', 'bench 2')).statusCode).toBe(404);
  });

  it('hands tables out as files, and nothing is kept by a cache', async () => {
    for (const path of ['runs.csv', `statistics.csv?${encoded}`]) {
      const { headers, body } = await get(path);
      expect(headers).toMatchObject({ 'content-type': 'text/csv; charset=utf-8', 'content-disposition': expect.stringMatching(/^attachment; filename="\w+\.csv"$/) as string, 'cache-control': 'no-store' });
      expect(body.trim().split('\r\n')).toHaveLength(4);
    }
  });
});
