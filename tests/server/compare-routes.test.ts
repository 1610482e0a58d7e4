import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fastify, { type FastifyInstance } from 'fastify';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openStore, type Store } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { compareRoutes } from '../../src/server/compare-routes.js';
import { guard } from '../../src/server/guard.js';
import { labelRoutes } from '../../src/server/label-routes.js';
import type { FlipSummary } from '../../src/tuning/what-would-flip.js';
import type { SweepReport } from '../../src/tuning/sweep.js';
import { runScenario } from '../../simulators/run-scenario.js';
import { storeOfRuns, testSoftware } from '../tuning/store-of-runs.js';

let folder: string;
let store: Store;
let app: FastifyInstance;
let address: string;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-compare-routes-'));
  const path = join(folder, 'records.sqlite');
  storeOfRuns(path, ['live-pass', 'live-drop', 'live-burst', 'live-vent-early'].map((name) => runScenario(name, 1)));
  ({ store } = openStore(path, { software: testSoftware }));
  app = fastify({ forceCloseConnections: true });
  guard(app, null);
  labelRoutes(app, [{ bench: 'bench 1', records: store }]);
  compareRoutes(app, [{ bench: 'bench 1', store: path, software: testSoftware, threads: 0 }]);
  address = `${await app.listen({ port: 0, host: '127.0.0.1' })}/api/benches/bench%201`;
});
afterAll(async () => {
  await app.close();
  store.close();
  rmSync(folder, { recursive: true, force: true });
});

const post = (path: string, body: object, signal?: AbortSignal) =>
  fetch(`${address}/${path}`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body), ...(signal && { signal }) });

const linesOf = async (answer: Response): Promise<({ readonly line: string } & Record<string, unknown>)[]> =>
  (await answer.text()).trim().split('\n').map((line) => JSON.parse(line) as { line: string });

describe('comparing through the page', () => {
  it('tells the runs that change, line by line, and what it comes to', async () => {
    const answer = await post('compare', { plan: 'plan: stricter\ntestPressure: 550 bar\nholdTime: 4 s\nmaximumDrop: 0.01 %\n' });
    expect(answer.headers.get('content-type')).toBe('application/x-ndjson');
    const lines = await linesOf(answer);
    expect(lines[0]).toEqual({ line: 'begin', total: 4 });
    expect(lines.filter(({ line }) => line === 'run')).toContainEqual(
      expect.objectContaining({ name: 'run 1', otherPlan: 'short proof', change: expect.objectContaining({ concern: 'new fail' }) as unknown }),
    );
    const { summary } = lines.at(-1) as unknown as { summary: FlipSummary };
    expect(summary).toMatchObject({ judged: 4, unread: 0 });
    expect(summary.flips).toBeGreaterThanOrEqual(1);
  });

  it.each([
    [{ thresholds: 'spikeHeigth: 2 %' }, /spikeHeigth.*did you mean 'spikeHeight'/],
    [{ plan: 'plan: x\ntestPressure: 550\n' }, /testPressure.*has no unit/],
    [{}, /says nothing to try/],
    [{ threshold: '' }, /did you mean 'thresholds'/],
    [{ thresholds: 'thresholds: a', choice: { verdict: 'good' } }, /verdict.*should be one of pass/],
  ])('refuses %j', async (body, sentence) => {
    const answer = await post('compare', body);
    expect(answer.status).toBe(400);
    expect(((await answer.json()) as { error: string }).error).toMatch(sentence);
  });

  it('frees its place when the page goes away', async () => {
    // More than may go on at once: places that were not freed would refuse the last.
    for (let i = 0; i < 4; i++) {
      const controller = new AbortController();
      const answer = i % 2 === 0 ? await post('compare', { thresholds: 'thresholds: other' }, controller.signal) : await post('sweep', { sweeps: ['settleSlope=1..20 %/min/9'] }, controller.signal);
      expect(answer.status).toBe(200);
      controller.abort();
      await expect(answer.text()).rejects.toThrow();
    }
    await expect.poll(async () => (await post('compare', { thresholds: 'thresholds: other' })).status, { timeout: 20_000 }).toBe(200);
  });
});

describe('labels through the page', () => {
  it('are set, told with who and why, and sealed', async () => {
    expect(await (await post('runs/2/labels', { label: 'truly leaking', who: 'R. Roe', why: 'seal was cut' })).json()).toEqual({
      labels: { truth: 'truly leaking', spikes: [] },
      said: [{ label: 'truly leaking', at: null, who: 'R. Roe', why: 'seal was cut', wall: expect.any(Number) as number }],
    });
    expect(await (await fetch(`${address}/runs/2/labels`)).json()).toMatchObject({ labels: { truth: 'truly leaking' } });
    expect(await (await post('runs/4/labels', { label: 'cannot tell', who: 'R. Roe' })).json()).toMatchObject({ labels: { truth: 'cannot tell' } });
    const refused = await post('runs/2/labels', { label: 'truly sound', who: 'R. Roe' });
    expect([refused.status, await refused.json()]).toMatchObject([400, { error: expect.stringMatching(/why: is empty/) as string }]);
    expect((await post('runs/99/labels', { label: 'truly sound', who: 'R. Roe' })).status).toBe(400);
    expect((await post('runs/2/labels', { label: 'good', who: 'R. Roe', why: 'x' })).status).toBe(400);
    expect((await post('runs/2/labels', { label: 'truly sound' })).status).toBe(400);
    expect(verifyLedger(store, { judgeAgain: true })).toMatchObject({ intact: true, again: { same: 4 } });
  });

  it('let a sweep show the trade-off', async () => {
    await post('runs/1/labels', { label: 'truly sound', who: 'R. Roe' });
    const lines = await linesOf(await post('sweep', { sweeps: ['settleSlope=1..20 %/min/3'] }));
    const { sweep } = lines.at(-1) as unknown as { sweep: SweepReport };
    expect(sweep.labelled).toMatchObject({ leaking: 1, sound: 1, untold: 1, unlabelled: 1 });
    expect(sweep.rows.map(({ values }) => values)).toEqual([{ settleSlope: '1 %/min' }, { settleSlope: '4.47 %/min' }, { settleSlope: '20 %/min' }]);
    expect(sweep.present.falsePass).toMatchObject({ count: 0, of: 2 });
    expect((await post('sweep', { sweeps: ['settleSlop=1..20 %/min/3'] })).status).toBe(400);
  });
});
