import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { z } from 'zod';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { AuditTrail } from '../../src/daemon/audit-trail.js';
import { deskOf } from '../../src/daemon/desk-of.js';
import { storeHistory } from '../../src/history/store-history.js';
import { auditRoutes } from '../../src/server/audit-routes.js';
import { compareRoutes } from '../../src/server/compare-routes.js';
import { apiDescription, operations, pathOf } from '../../src/server/description/api-description.js';
import { historyRoutes } from '../../src/server/history-routes.js';
import { HttpServer } from '../../src/server/http-server.js';
import { labelRoutes } from '../../src/server/label-routes.js';
import { libraryRoutes } from '../../src/server/library-routes.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { tuningRoutes } from '../../src/server/tuning-routes.js';
import { GuardedBench } from '../access/guarded-bench.js';
import { nameOf, secrets } from '../access/people-of-tests.js';
import { shop as shopOfTests } from '../certificate/tested-bench.js';
import { ShopBench } from '../daemon/shop-bench.js';
import { jsonSchemaChecker, problemsBy } from './json-schema-checker.js';

type Document = {
  readonly openapi: string;
  readonly paths: Readonly<Record<string, Readonly<Record<string, Described>>>>;
  readonly components: { readonly schemas: Readonly<Record<string, object>> };
};
interface Described {
  readonly summary: string;
  readonly 'x-needs': string;
  readonly parameters?: readonly { readonly name: string; readonly in: 'path' | 'query'; readonly required: boolean; readonly schema: object }[];
  readonly requestBody?: { readonly content: { readonly 'application/json': { readonly schema: object } } };
  readonly responses: Readonly<Record<string, { readonly content?: Readonly<Record<string, { readonly schema?: object }>> }>>;
}

const made: { readonly method: string; readonly url: string; readonly needs: string | undefined }[] = [];
const guarded = new GuardedBench();
let bench: ShopBench;
let server: HttpServer;
const pages = mkdtempSync(join(tmpdir(), 'dwellkeeper-pages-'));
let open: Document;
let strict: Document;
let check: (schema: object, value: unknown) => string[];

beforeAll(async () => {
  await guarded.start({ routeMade: (route) => made.push(route) });
  [open, strict] = (await Promise.all([apiDescription({ version: '1.2.3' }), apiDescription({ version: '1.2.3', strictness: 'strict' })])) as unknown as [Document, Document];
  check = jsonSchemaChecker(strict);
  mkdirSync(join(pages, 'live'));
  writeFileSync(join(pages, 'live', 'index.html'), '<!doctype html>');
  bench = new ShopBench();
  bench.start();
  const { daemon } = bench.hand;
  const store = bench.path('records.sqlite');
  const desk = deskOf(daemon, documentMaker({ store, software: 'dwellkeeper test', shop: shopOfTests }), shopOfTests.zone, () => bench.hand.at.wall, bench.desk.forJobs());
  const history = storeHistory({ store, software: 'dwellkeeper test' });
  const records = { name: daemon.feed.name, bench: daemon.feed.name, trouble: (error: unknown): void => { throw error; }, get records() { return daemon.records; } };
  const trail = new AuditTrail(records);
  server = await HttpServer.start({
    benches: [daemon.feed], pages,
    routes: (app) => {
      operatorRoutes(app, [desk]);
      libraryRoutes(app, [bench.desk]);
      historyRoutes(app, [{ bench: 'north bench', history }]);
      tuningRoutes(app, [records]);
      labelRoutes(app, [records]);
      compareRoutes(app, [{ bench: 'north bench', store, software: 'dwellkeeper test', threads: 0 }]);
      auditRoutes(app, [{ bench: 'north bench', history, desk: trail }]);
    },
  });
});
afterAll(async () => {
  await server.close();
  bench.clear();
  await guarded.stop();
  rmSync(pages, { recursive: true, force: true });
});

describe('the description of the HTTP interface', () => {
  it('knows every route that a daemon has, with its role, and no other', () => {
    const there = new Set(made.filter(({ method }) => method !== 'HEAD').map(({ method, url, needs }) => `${method} ${pathOf(url)} ${needs}`));
    const described = Object.entries(open.paths).flatMap(([path, methods]) => Object.entries(methods).map(([method, { 'x-needs': needs }]) => `${method.toUpperCase()} ${path} ${needs}`));
    // The WebSocket is no route of Fastify; it is told in words.
    expect(described.sort()).toEqual([...there, 'GET /live/socket viewer'].sort());
    expect(Object.keys(operations).sort()).toEqual([...new Set(made.filter(({ method }) => method !== 'HEAD').map(({ method, url }) => `${method} ${url}`))].sort());
  });

  it('is OpenAPI 3.1 by the schema that the OpenAPI Initiative publishes', () => {
    // https://spec.openapis.org/oas/3.1/schema/2022-10-07 (Apache License 2.0). Ajv takes the dynamic reference for the root;
    // within this one document it means its schema of a schema.
    const text = readFileSync(new URL('../fixtures/openapi-3.1-schema-2022-10-07.json', import.meta.url), 'utf8');
    const official = JSON.parse(text.replaceAll('"$dynamicRef": "#meta"', '"$ref": "#/$defs/schema"')) as object;
    expect(problemsBy(official, JSON.parse(JSON.stringify(open)))).toEqual([]);
    expect(problemsBy(official, { ...open, paths: { 'no-slash': { get: { responses: { ok: {} } } } } })).not.toEqual([]);
  });

  it('has no schema that does not hold together, and no name that leads nowhere', () => {
    for (const document of [open, strict]) {
      const names = [...JSON.stringify(document).matchAll(/"\$ref":"([^"]+)"/g)].map(([, ref = '']) => ref);
      expect(names.length).toBeGreaterThan(30);
      for (const ref of new Set(names)) expect(Object.keys(document.components.schemas)).toContain(ref.replace('#/components/schemas/', ''));
    }
    for (const schema of Object.values(strict.components.schemas)) expect(() => check(schema, {})).not.toThrow();
  });

  it('refuses what is not as described', () => {
    const refusal = { $ref: '#/components/schemas/Refusal' };
    expect(check(refusal, { error: 'x', problems: [] })).toEqual([]);
    expect(check(refusal, { error: 3 })).not.toEqual([]);
    expect(check(refusal, { error: 'x', colour: 'red' })).not.toEqual([]);
  });

  it('says each address, in one line each, and each part of an address', () => {
    for (const [path, methods] of Object.entries(open.paths)) {
      for (const { summary, parameters = [] } of Object.values(methods)) {
        expect(summary).toMatch(/^[A-Z].{5,}[^.]$/);
        expect(parameters.filter((one) => one.in === 'path').map(({ name }) => `{${name}}`)).toEqual(path.match(/\{\w+\}/g) ?? []);
      }
    }
  });

  it('is served, to those who may look', async () => {
    const cookie = await guarded.signIn('viewer');
    expect((await guarded.ask('GET', '/api/openapi.json')).status).toBe(401);
    const answer = await guarded.ask('GET', '/api/openapi.json', { cookie });
    expect([answer.status, answer.headers.get('content-type')]).toEqual([200, 'application/json; charset=utf-8']);
    expect((await answer.json()) as Document).toMatchObject({ openapi: '3.1.1', info: { version: 'test' }, paths: { '/api/benches': {} } });
  });
});

/** Asks, and checks the request and the answer by the description. */
async function ask(method: string, url: string, { at = '', body, status = 200, of }: { at?: string; body?: object; status?: number; of?: string }): Promise<unknown> {
  const path = strict.paths[pathOf(url)] ?? {};
  const described = path[method.toLowerCase()];
  if (described === undefined) throw new Error(`${method} ${url} is not described`);
  const query = new URLSearchParams(at.split('?')[1] ?? '');
  const known = (described.parameters ?? []).filter((one) => one.in === 'query');
  if (status === 200) {
    expect([...query.keys()].filter((key) => !known.some(({ name }) => name === key))).toEqual([]);
    expect(known.filter(({ name, required }) => required && !query.has(name))).toEqual([]);
    if (body !== undefined) expect(check(described.requestBody?.content['application/json'].schema ?? { not: {} }, body)).toEqual([]);
  }
  const answer = await fetch(`${of ?? server.address}${at === '' ? url : at}`, { method, ...(body && { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }) });
  const bytes = new Uint8Array(await answer.arrayBuffer());
  const text = new TextDecoder().decode(bytes);
  expect([method, at, answer.status, answer.status === status ? '' : text.slice(0, 300)]).toEqual([method, at, status, '']);
  const content = described.responses[String(status)]?.content ?? {};
  const type = (answer.headers.get('content-type') ?? '').split(';')[0] ?? '';
  expect(Object.keys(content)).toContain(type);
  const schema = content[type]?.schema;
  if (schema === undefined) return bytes;
  const values = type === 'application/x-ndjson' ? text.trim().split('\n').map((line) => JSON.parse(line) as unknown) : [JSON.parse(text) as unknown];
  for (const value of values) expect([at, check(schema, value)]).toEqual([at, []]);
  return values.at(-1);
}

const base = '/api/benches/:bench';
const at = '/api/benches/north%20bench';
const roe = { who: 'M. Roe', why: 'as agreed' };

describe('what a running bench answers is as described', () => {
  const asked = new Set<string>();
  const get = (address: string, query = address, status = 200) => {
    asked.add(`GET ${base}${address}`);
    return ask('GET', `${base}${address}`, { at: `${at}${query}`, status });
  };
  const send = (method: string, address: string, body: object, path = address, status = 200) => {
    asked.add(`${method} ${base}${address}`);
    return ask(method, `${base}${address}`, { at: `${at}${path}`, body, status });
  };

  it('jobs, runs, entries, labels, documents', async () => {
    asked.add('GET /api/benches');
    await ask('GET', '/api/benches', {});
    await send('PUT', '/job', { job: { order: 'A-1', hose: 'two-wire DN12', assemblies: 'A17-001..002' }, who: 'J. Doe' });
    bench.hand.goodRun();
    bench.hand.goodRun(1);
    await get('/job');
    await get('/runs', '/runs?limit=5');
    await get('/envelope', '/envelope?run=1&columns=50');
    await get('/runs/:run', '/runs/1');
    await get('/runs/:run', '/runs/77', 404);
    await send('POST', '/runs/:run/entries', { entry: { kind: 'visual-finding', finding: 'leakage seen', leaks: [{ assembly: 'A17-002', at: 'crimp' }] }, who: 'J. Doe' }, '/runs/1/entries');
    await send('POST', '/runs/:run/entries', { entry: { kind: 'note', text: 'wet floor' }, who: 'J. Doe' }, '/runs/1/entries');
    await send('POST', '/runs/:run/entries', { entry: { kind: 'shout' }, who: 'J. Doe' }, '/runs/1/entries', 400);
    await send('POST', '/job/again', { who: 'J. Doe' });
    await send('POST', '/job/retest', { run: 1, assembly: 'A17-002', who: 'J. Doe' });
    await ask('DELETE', `${base}/job`, { at: `${at}/job` });
    asked.add(`DELETE ${base}/job`);
    await send('POST', '/runs/:run/labels', { label: 'truly leaking', ...roe }, '/runs/1/labels');
    await get('/runs/:run/labels', '/runs/1/labels');
    for (const file of ['certificate.pdf?paper=A4', 'label.txt', 'record.json', 'record.csv', 'trace.csv']) await get(`/runs/:run/${file.split('?')[0] ?? ''}`, `/runs/1/${file}`);
    // Drawing takes its time, and tests/server/operator-routes.test.ts draws these.
    await get('/runs/:run/label.pdf', '/runs/77/label.pdf?width=58', 404);
    for (const file of ['order.pdf', 'order.zip']) await get(`/orders/:order/${file}`, `/orders/none/${file}?paper=A4`, 404);
  });

  it('plans and thresholds', async () => {
    await get('/plans', '/plans?find=short');
    await get('/plans/:key', '/plans/plan');
    await send('POST', '/plans/from-hose', { hose: 'ISO 1436 2SN DN12' });
    await send('POST', '/plans/check', { key: 'plan', changes: { holdTime: '0.1 s' } });
    await send('PUT', '/plans/:key', { base: 1, changes: { holdTime: '4 s' }, ...roe }, '/plans/plan');
    await send('PUT', '/plans/:key', { base: 1, changes: { holdTime: '5 s' }, ...roe }, '/plans/plan', 409);
    await get('/plans/:key/versions/:version', '/plans/plan/versions/1');
    await get('/plans/:key/difference', '/plans/plan/difference?from=1&to=2');
    await get('/plans/:key/difference', '/plans/plan/difference?from=x&to=2', 400);
    await send('POST', '/plans/:key/back', { to: 1, base: 2, ...roe }, '/plans/plan/back');
    await send('POST', '/plans', { copyOf: 'plan', changes: { plan: 'a copy' }, ...roe });
    await send('POST', '/plan', { key: 'plan', who: 'J. Doe' });
    await send('POST', '/plans/:key/retire', { base: 1, ...roe }, '/plans/a-copy/retire');
    await get('/thresholds');
    await send('POST', '/thresholds/check', { changes: { gap: '1' } });
    await send('PUT', '/thresholds', { base: 1, changes: { gap: '2 s' }, ...roe });
    await get('/thresholds/versions/:version', '/thresholds/versions/2');
    await get('/thresholds/difference', '/thresholds/difference?from=1&to=2');
    await send('POST', '/thresholds/back', { to: 1, base: 2, ...roe });
    const { plans } = z.object({ plans: z.array(z.object({ sha256: z.string() })) }).parse(await get('/plans'));
    await get('/judged-by/:sha256', `/judged-by/${plans[0]?.sha256 ?? ''}`);
  });

  it('runs on record, and recorded runs judged again', async () => {
    await get('/history/runs', '/history/runs?order=A-1&limit=5&from=2027-01-01');
    await get('/history/runs', '/history/runs?result=good', 400);
    await get('/history/runs.csv');
    await get('/history/runs/:run', '/history/runs/1');
    await get('/history/runs/:run/trace', '/history/runs/1/trace?columns=100');
    await get('/history/groups');
    const some = `plan=short%20proof&hose=${encodeURIComponent('two-wire DN12')}&measure=drop`;
    await get('/history/statistics', `/history/statistics?${some}`);
    await get('/history/statistics.csv', `/history/statistics.csv?${some}`);
    await get('/tuning/runs', '/tuning/runs?limit=10');
    await get('/tuning/runs/:run', '/tuning/runs/1');
    await send('POST', '/compare', { plan: 'plan: stricter\ntestPressure: 550 bar\nholdTime: 3 s\nmaximumDrop: 0.001 %\n', choice: { numbers: [[1, 2]] } });
    await send('POST', '/compare', { threshold: '' }, '/compare', 400);
    await get('/audit', '/audit?limit=5');
    await get('/audit', '/audit?limit=0', 400);
    await get('/audit/chain');
    await get('/audit.csv');
    await send('POST', '/sweep', { sweeps: ['settleSlope=1..20 %/min/2'] });
  });

  it('who is there, and whether all is well', async () => {
    const of = guarded.address;
    await ask('GET', '/healthz', { of, status: 503 });
    await ask('GET', '/metrics', { of });
    await ask('GET', '/api/me', { of });
    await ask('POST', '/api/sign-in', { of, body: { name: nameOf('viewer'), secret: 'not it' }, status: 401 });
    await ask('POST', '/api/sign-in', { of, body: { name: nameOf('engineer'), secret: secrets.engineer } });
    await ask('POST', '/api/sign-out', { of });
    for (const known of ['/healthz', '/metrics', '/api/me', '/api/openapi.json', '/', '/*', '/sign-in/*', '/assets/*']) asked.add(`GET ${known}`);
    for (const known of ['/api/sign-in', '/api/sign-out']) asked.add(`POST ${known}`);
  });

  it('and none was left out', () => {
    expect(Object.keys(operations).filter((one) => !asked.has(one))).toEqual([]);
  });
});
