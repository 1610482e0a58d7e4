import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { HttpServer } from '../../src/server/http-server.js';
import { libraryRoutes } from '../../src/server/library-routes.js';
import type { CheckAnswer, DifferenceAnswer, JudgedBy, PlanInForce, PlanList, SettingAnswer } from '../../src/server/setup-answers.js';
import { planText, ShopBench } from '../daemon/shop-bench.js';

let shop: ShopBench;
let server: HttpServer;
const pages = mkdtempSync(join(tmpdir(), 'dwellkeeper-pages-'));

beforeAll(async () => {
  mkdirSync(join(pages, 'live'));
  writeFileSync(join(pages, 'live', 'index.html'), '<!doctype html>');
  shop = new ShopBench();
  shop.start();
  server = await HttpServer.start({ benches: [shop.hand.daemon.feed], pages, routes: (app) => libraryRoutes(app, [shop.desk]) });
});
afterAll(async () => {
  await server.close();
  shop.clear();
  rmSync(pages, { recursive: true, force: true });
});

async function ask<T = { error: string; problems: { place: string; text: string }[] }>(method: string, path: string, body?: object): Promise<{ status: number; said: T }> {
  const answer = await fetch(`${server.address}/api/benches/north%20bench${path}`, {
    method, ...(body && { body: JSON.stringify(body), headers: { 'content-type': 'application/json' } }),
  });
  return { status: answer.status, said: (await answer.json()) as T };
}
const roe = { who: 'M. Roe', why: 'new hose' };

describe('plans over HTTP', () => {
  it('a plan from a hose, changed with a reason, compared, brought back, chosen', async () => {
    const { said: made } = await ask<CheckAnswer>('POST', '/plans/from-hose', { hose: 'ISO 1436 2SN DN12', fittingRatings: ['250 bar'] });
    expect(made.fields.find(({ key }) => key === 'testPressure')?.written).toBe('500 bar');
    const { said: first } = await ask<SettingAnswer>('POST', '/plans', { text: made.text, ...roe });
    expect(first).toMatchObject({ key: 'iso-1436-2sn-dn-12.5-proof', version: 1, inForce: false, retired: false });
    const at = `/plans/${first.key}`;

    const { said: second } = await ask<SettingAnswer>('PUT', at, { base: 1, changes: { holdTime: '30 s', maximumDrop: null }, who: 'M. Roe', why: 'as the standard allows' });
    expect(second.versions.map(({ version, who, why }) => [version, who, why])).toEqual([[2, 'M. Roe', 'as the standard allows'], [1, 'M. Roe', 'new hose']]);
    expect((await ask<DifferenceAnswer>('GET', `${at}/difference?from=1&to=2`)).said).toEqual({
      from: 1, to: 2, wordsOnly: false, changes: [{ key: 'holdTime', from: '60 s', to: '30 s' }, { key: 'maximumDrop', from: '2 %', to: 'not set' }],
    });
    expect((await ask<SettingAnswer>('POST', `${at}/back`, { to: 1, base: 2, who: 'M. Roe', why: 'customer asks for 60 s' })).said).toMatchObject({ version: 3, text: first.text });

    expect((await ask<PlanInForce>('POST', '/plan', { key: first.key, who: 'J. Doe' })).said).toEqual({ inForce: first.key, next: null, running: false });
    const { said: list } = await ask<PlanList>('GET', '/plans?find=2SN%2012');
    expect(list).toMatchObject({ inForce: first.key, plans: [{ key: first.key, version: 3, testPressure: 500, holdTime: 60, inForce: true, lastUsed: null }] });
    const { said: judged } = await ask<JudgedBy>('GET', `/judged-by/${list.plans[0]?.sha256}`);
    expect(judged).toMatchObject({ kind: 'plan', key: first.key, version: { version: 3 } });
  });

  it('two who save at once: the second gets 409 with both differences, and nothing of either is lost', async () => {
    const { said: made } = await ask<SettingAnswer>('POST', '/plans', { text: planText('shared'), ...roe });
    const at = `/plans/${made.key}`;
    const answers = await Promise.all([
      ask<SettingAnswer & { theirs: unknown; yours: unknown; error: string }>('PUT', at, { base: 1, changes: { holdTime: '4 s' }, who: 'J. Doe', why: 'one second more' }),
      ask<SettingAnswer & { theirs: unknown; yours: unknown; error: string }>('PUT', at, { base: 1, changes: { testPressure: '560 bar' }, who: 'M. Roe', why: 'a stronger fitting' }),
    ]);
    const refused = answers.find(({ status }) => status === 409);
    const saved = answers.find(({ status }) => status === 200);
    expect(saved?.said.version).toBe(2);
    expect(refused?.said.error).toMatch(/^shared: was changed meanwhile by (J\. Doe|M\. Roe) \(version 2: /);
    expect([refused?.said.theirs, refused?.said.yours].flat()).toContainEqual({ key: 'holdTime', from: expect.any(String) as string, to: expect.any(String) as string });
    const { said: now } = await ask<SettingAnswer>('GET', at);
    expect(now.version).toBe(2);
  });

  it('says what would be wrong beside each field, and writes nothing', async () => {
    const { status, said } = await ask<CheckAnswer>('POST', '/plans/check', { key: 'plan', changes: { testPressure: '550', holdTime: '0.1 s', cycles: 'three' } });
    expect(status).toBe(200);
    expect(said.problems.map(({ place, text }) => `${place}: ${text}`)).toEqual([
      "testPressure: '550' has no unit; write for example '550 bar'",
      "holdTime: '0.1 s' should be 0.5 s to 2592000 s: how long the settled pressure must be watched",
      "cycles: 'three' should be a number",
    ]);
    expect(shop.desk.library.get('plan').newest.version).toBe(1);
  });

  it('every field has its meaning, and every number its range and an example', async () => {
    const plan = (await ask<SettingAnswer>('GET', '/plans/plan')).said;
    const thresholds = (await ask<SettingAnswer>('GET', '/thresholds')).said;
    for (const { key, label, kind, meaning, range, example } of [...plan.fields, ...thresholds.fields]) {
      expect([key, label, meaning].every((word) => word !== '')).toBe(true);
      if (kind === 'quantity') expect(`${range} ${example}`).toMatch(/\d.*(bar|s|%).* \d/);
    }
    expect(plan.fields.map(({ key }) => key)).toContain('riseRate.maximum');
    expect(thresholds.fields.find(({ key }) => key === 'settleSlope')).toMatchObject({ default: '0.3 %/min', written: null });
    expect(thresholds.fields.find(({ key }) => key === 'slewLimit')?.default).toBe('2000 %/s');
  });

  it.each<[string, string, string, object | undefined, number, string]>([
    ['an unknown plan', 'GET', '/plans/nothing', undefined, 404, 'there is no such plan'],
    ['a name that leads out', 'GET', '/plans/..%2Fplan', undefined, 404, 'there is no such plan'],
    ['a name that leads out, to be written', 'PUT', '/plans/..%2F..%2Fevil', { base: 0, text: planText('evil'), ...roe }, 404, 'there is no such plan'],
    ['an unknown version', 'GET', '/plans/plan/versions/77', undefined, 404, 'has no version 77'],
    ['no reason', 'PUT', '/plans/plan', { base: 1, changes: { holdTime: '9 s' }, who: 'M. Roe' }, 400, 'why: is empty; a new version needs its reason'],
    ['nobody', 'PUT', '/plans/plan', { base: 1, changes: { holdTime: '9 s' }, why: 'x' }, 400, 'who'],
    ['no change', 'PUT', '/plans/plan', { base: 1, changes: {}, ...roe }, 400, 'nothing was changed'],
    ['neither text nor changes', 'PUT', '/plans/plan', { base: 1, ...roe }, 400, 'give text, changes or both'],
    ['a field there is not', 'PUT', '/plans/plan', { base: 1, changes: { colour: 'red' }, ...roe }, 400, 'colour: there is no such field'],
    ['a name that is taken', 'POST', '/plans', { text: planText('Plan'), ...roe }, 400, "there is a plan 'plan' already"],
    ['a copy without a name', 'POST', '/plans', { copyOf: 'plan', changes: { holdTime: '9 s' }, ...roe }, 400, 'give the copy a name of its own'],
    ['a hose there is not', 'POST', '/plans/from-hose', { hose: '9XY DN12' }, 400, "hose: '9XY DN12': there is no type"],
    ['a rating without a unit', 'POST', '/plans/from-hose', { workingPressure: '275' }, 400, "workingPressure: '275' has no unit"],
    ['an unknown plan, chosen', 'POST', '/plan', { key: 'nothing', who: 'J. Doe' }, 404, 'there is no such plan'],
    ['a digest of nothing', 'GET', `/judged-by/${'0'.repeat(64)}`, undefined, 404, 'no such version in the library'],
  ])('%s: %s %s', async (_what, method, path, body, status, sentence) => {
    const answer = await ask(method, path, body);
    expect(answer.said.error).toContain(sentence);
    expect(answer.status).toBe(status);
    expect(readdirSync(shop.hand.folder).filter((name) => name.includes('evil'))).toEqual([]);
  });

  it('a plan in force cannot be retired; another can, is left out of the list, and comes back', async () => {
    const { said: list } = await ask<PlanList>('GET', '/plans');
    const inForce = list.inForce ?? '';
    const version = (await ask<SettingAnswer>('GET', `/plans/${inForce}`)).said.version;
    expect((await ask('POST', `/plans/${inForce}/retire`, { base: version, ...roe })).said.error).toContain('runs are judged by it; choose another plan first');
    const { said: made } = await ask<SettingAnswer>('POST', '/plans', { copyOf: 'plan', changes: { plan: 'short lived' }, ...roe });
    expect((await ask<SettingAnswer>('POST', `/plans/${made.key}/retire`, { base: 1, who: 'M. Roe', why: 'no longer made' })).said.retired).toBe(true);
    const keys = async (path: string) => (await ask<PlanList>('GET', path)).said.plans.map(({ key }) => key);
    expect(await keys('/plans')).not.toContain(made.key);
    expect(await keys('/plans?retired=1')).toContain(made.key);
    await ask('POST', `/plans/${made.key}/back`, { to: 1, base: 2, who: 'M. Roe', why: 'one more order' });
    expect(await keys('/plans')).toContain(made.key);
  });
});

describe('thresholds over HTTP', () => {
  it('changed with a reason, compared, brought back; the next run is judged by them', async () => {
    const { said: before } = await ask<SettingAnswer>('GET', '/thresholds');
    expect(before).toMatchObject({ key: 'thresholds', version: 1, inForce: true });
    const { said: after } = await ask<SettingAnswer>('PUT', '/thresholds', { base: 1, changes: { spikeHeight: '2 %', quietTime: '2 s' }, who: 'M. Roe', why: 'false spikes on thin hose' });
    expect(after.version).toBe(2);
    expect((await ask<DifferenceAnswer>('GET', '/thresholds/difference?from=1&to=2')).said.changes).toEqual([
      { key: 'spikeHeight', from: '1 % (default)', to: '2 %' }, { key: 'quietTime', from: '1 s', to: '2 s' },
    ]);
    expect(shop.told.at(-1)?.thresholds.value.quietTime).toBe(2);
    expect((await ask<SettingAnswer>('POST', '/thresholds/back', { to: 1, base: 2, who: 'M. Roe', why: 'no better' })).said.text).toBe(before.text);
    expect(shop.told.at(-1)?.thresholds.value.quietTime).toBe(1);
    expect((await ask<CheckAnswer>('POST', '/thresholds/check', { changes: { gap: '1' } })).said.problems).toEqual([{ place: 'gap', text: "'1' has no unit; write for example '1 s'" }]);
  });
});
