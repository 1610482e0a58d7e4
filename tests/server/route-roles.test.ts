import { fastify } from 'fastify';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { mayDo, roles, type Needs, type Role } from '../../src/access/roles.js';
import { guard } from '../../src/server/guard.js';
import { GuardedBench } from '../access/guarded-bench.js';

/** Every route there is, and who may use it. A new route needs a row. */
const table: readonly (readonly [method: string, address: string, needs: Needs])[] = [
  ['GET', '/', 'anyone'],
  ['GET', '/healthz', 'anyone'],
  ['GET', '/metrics', 'anyone'],
  ['GET', '/api/me', 'anyone'],
  ['POST', '/api/sign-in', 'anyone'],
  ['POST', '/api/sign-out', 'anyone'],
  ['GET', '/sign-in/*', 'anyone'],
  ['GET', '/assets/*', 'anyone'],
  ['GET', '/*', 'viewer'],
  ['GET', '/api/openapi.json', 'viewer'],
  ['GET', '/api/benches', 'viewer'],
  ['GET', '/api/benches/:bench/runs', 'viewer'],
  ['GET', '/api/benches/:bench/envelope', 'viewer'],
  ['GET', '/api/benches/:bench/job', 'viewer'],
  ['PUT', '/api/benches/:bench/job', 'operator'],
  ['POST', '/api/benches/:bench/job/again', 'operator'],
  ['POST', '/api/benches/:bench/job/retest', 'operator'],
  ['DELETE', '/api/benches/:bench/job', 'operator'],
  ['GET', '/api/benches/:bench/runs/:run', 'viewer'],
  ['POST', '/api/benches/:bench/runs/:run/entries', 'operator'],
  ['GET', '/api/benches/:bench/runs/:run/certificate.pdf', 'viewer'],
  ['GET', '/api/benches/:bench/runs/:run/label.pdf', 'viewer'],
  ['GET', '/api/benches/:bench/runs/:run/label.txt', 'viewer'],
  ['GET', '/api/benches/:bench/runs/:run/record.json', 'viewer'],
  ['GET', '/api/benches/:bench/runs/:run/record.csv', 'viewer'],
  ['GET', '/api/benches/:bench/runs/:run/trace.csv', 'viewer'],
  ['GET', '/api/benches/:bench/orders/:order/order.pdf', 'viewer'],
  ['GET', '/api/benches/:bench/orders/:order/order.zip', 'viewer'],
  ['GET', '/api/benches/:bench/plans', 'viewer'],
  ['GET', '/api/benches/:bench/plans/:key', 'viewer'],
  ['GET', '/api/benches/:bench/plans/:key/versions/:version', 'viewer'],
  ['GET', '/api/benches/:bench/plans/:key/difference', 'viewer'],
  ['GET', '/api/benches/:bench/judged-by/:sha256', 'viewer'],
  // They compute and save nothing.
  ['POST', '/api/benches/:bench/plans/from-hose', 'viewer'],
  ['POST', '/api/benches/:bench/plans/check', 'viewer'],
  ['POST', '/api/benches/:bench/thresholds/check', 'viewer'],
  ['POST', '/api/benches/:bench/plan', 'operator'],
  ['POST', '/api/benches/:bench/plans', 'engineer'],
  ['PUT', '/api/benches/:bench/plans/:key', 'engineer'],
  ['POST', '/api/benches/:bench/plans/:key/back', 'engineer'],
  ['POST', '/api/benches/:bench/plans/:key/retire', 'engineer'],
  ['GET', '/api/benches/:bench/thresholds', 'viewer'],
  ['GET', '/api/benches/:bench/thresholds/versions/:version', 'viewer'],
  ['GET', '/api/benches/:bench/thresholds/difference', 'viewer'],
  ['PUT', '/api/benches/:bench/thresholds', 'engineer'],
  ['POST', '/api/benches/:bench/thresholds/back', 'engineer'],
  ['GET', '/api/benches/:bench/audit', 'engineer'],
  ['GET', '/api/benches/:bench/audit/chain', 'engineer'],
  ['GET', '/api/benches/:bench/audit.csv', 'engineer'],
  ['GET', '/api/benches/:bench/history/runs', 'viewer'],
  ['GET', '/api/benches/:bench/history/runs.csv', 'viewer'],
  ['GET', '/api/benches/:bench/history/runs/:run', 'viewer'],
  ['GET', '/api/benches/:bench/history/runs/:run/trace', 'viewer'],
  ['GET', '/api/benches/:bench/history/groups', 'viewer'],
  ['GET', '/api/benches/:bench/history/statistics', 'viewer'],
  ['GET', '/api/benches/:bench/history/statistics.csv', 'viewer'],
  ['POST', '/api/benches/:bench/compare', 'engineer'],
  ['POST', '/api/benches/:bench/sweep', 'engineer'],
  ['GET', '/api/benches/:bench/runs/:run/labels', 'viewer'],
  ['POST', '/api/benches/:bench/runs/:run/labels', 'engineer'],
  ['GET', '/api/benches/:bench/tuning/runs', 'engineer'],
  ['GET', '/api/benches/:bench/tuning/runs/:run', 'engineer'],
];

const made: { readonly method: string; readonly url: string; readonly needs: Needs | undefined }[] = [];
const bench = new GuardedBench();
let cookies: Readonly<Record<Role, string>>;

beforeAll(async () => {
  await bench.start({ routeMade: (route) => made.push(route) });
  cookies = await bench.signInAll();
});
afterAll(() => bench.stop());

/** Fits every route; a bench that is not there, so that whoever is let in changes nothing. */
const addressOf = (url: string): string =>
  ({ '/*': '/live/', '/sign-in/*': '/sign-in/', '/assets/*': '/assets/a-1.js' })[url] ?? url.replace(':bench', 'elsewhere').replaceAll(/:[a-z0-9]+/g, '1');

describe('every route and every role', () => {
  it('the table knows every route that the server has, and no other', () => {
    const there = made.filter(({ method }) => method !== 'HEAD').map(({ method, url, needs }) => `${method} ${url} ${needs}`);
    expect([...new Set(there)].sort()).toEqual(table.map((row) => row.join(' ')).sort());
  });

  it('what may be read may be asked for by HEAD, by the same role', () => {
    for (const { method, url, needs } of made) if (method === 'HEAD') expect([url, needs]).toEqual([url, table.find((row) => row[0] === 'GET' && row[1] === url)?.[2]]);
  });

  it.each(table)('%s %s is for %s and above', async (method, url, needs) => {
    const page = url === '/*';
    for (const role of [null, ...roles]) {
      const asked = { ...(role !== null && { cookie: cookies[role] }), ...(!['GET', 'DELETE'].includes(method) && url !== '/api/sign-out' && { body: {} }) };
      // Signing out is for anyone; the sessions are still needed.
      if (url === '/api/sign-out') delete asked.cookie;
      const { status, headers } = await bench.ask(method, addressOf(url), asked);
      const right = needs === 'anyone' || (role !== null && mayDo(role, needs));
      if (right) expect([role, status]).not.toEqual([role, expect.toBeOneOf([401, 403, 500])]);
      else if (role === null && page) expect([status, headers.get('location')]).toEqual([302, '/sign-in/?to=%2Flive%2F']);
      else expect([role, status]).toEqual([role, role === null ? 401 : 403]);
    }
  });

  it('a route that names no role is for nobody', async () => {
    const app = fastify();
    guard(app, { personOf: () => ({ name: 'E. Lindqvist', role: 'engineer' }) });
    app.get('/forgotten', () => 'secret');
    app.get('/known', { config: { needs: 'engineer' } }, () => 'known');
    const [forgotten, known] = [await app.inject('/forgotten'), await app.inject('/known')];
    expect([forgotten.statusCode, known.statusCode]).toEqual([403, 200]);
    expect(forgotten.body).toContain('does not say which role it needs');
    await app.close();
  });
});
