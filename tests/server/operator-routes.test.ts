import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { request as httpRequest } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { deskOf } from '../../src/daemon/desk-of.js';
import { HttpServer } from '../../src/server/http-server.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { pdfFacts } from '../certificate/pdf-reading.js';
import { calibration, shop } from '../certificate/tested-bench.js';
import { HandBench, judgingBy } from '../daemon/hand-bench.js';

let bench: HandBench;
let server: HttpServer;
let base: string;
const pages = mkdtempSync(join(tmpdir(), 'dwellkeeper-pages-'));

beforeAll(async () => {
  mkdirSync(join(pages, 'live'));
  writeFileSync(join(pages, 'live', 'index.html'), '<!doctype html>');
  bench = new HandBench(judgingBy(), { calibration });
  const desk = deskOf(bench.daemon, documentMaker({ store: join(bench.folder, 'records.sqlite'), software: 'test', shop }), shop.zone, () => bench.at.wall);
  server = await HttpServer.start({ benches: [bench.daemon.feed], pages, routes: (app) => operatorRoutes(app, [desk]) });
  base = `${server.address}/api/benches/north%20bench`;
  bench.daemon.start();
  bench.ramp(0, 0, 2);
  await send('PUT', '/job', { job: { order: 'A/1', assemblies: 'A17-001..002', operator: '=HYPERLINK("x")' }, who: 'J. Doe' });
  bench.goodRun();
});
afterAll(async () => {
  await server.close();
  bench.clear();
  rmSync(pages, { recursive: true, force: true });
});

async function send(method: string, path: string, body?: unknown, headers: Record<string, string> = {}) {
  const answer = await fetch(`${base}${path}`, { method, ...(body !== undefined && { body: typeof body === 'string' ? body : JSON.stringify(body), headers: { 'content-type': 'application/json', ...headers } }) });
  return { status: answer.status, type: answer.headers.get('content-type'), disposition: answer.headers.get('content-disposition'), bytes: new Uint8Array(await answer.arrayBuffer()) };
}
const json = ({ bytes }: { bytes: Uint8Array }): unknown => JSON.parse(new TextDecoder().decode(bytes));

describe('what an operator asks for', () => {
  it.each<[string, string, unknown, number]>([
    ['GET', '/job', undefined, 200],
    ['GET', '/runs/1', undefined, 200],
    ['GET', '/runs/7', undefined, 404],
    ['GET', '/runs/x', undefined, 404],
    ['PUT', '/job', { job: { order: '1' }, who: 'J. Doe' }, 200],
    ['PUT', '/job', { job: { order: '1' } }, 400],
    ['PUT', '/job', { job: { order: '1' }, who: ' ' }, 400],
    ['PUT', '/job', { job: { ordre: '1' }, who: 'J. Doe' }, 400],
    ['PUT', '/job', { job: { assemblies: '9..1' }, who: 'J. Doe' }, 400],
    ['PUT', '/job', '{"job"', 400],
    ['PUT', '/job', { job: { remark: 'x'.repeat(70_000) }, who: 'J. Doe' }, 413],
    ['DELETE', '/job', undefined, 200],
    ['POST', '/job/again', { who: 'J. Doe' }, 200],
    ['POST', '/job/again', {}, 400],
    ['POST', '/job/retest', { who: 'J. Doe', run: 1, assembly: 'A17-002' }, 200],
    ['POST', '/job/retest', { who: 'J. Doe', run: 1 }, 400],
    ['POST', '/job/retest', { who: 'J. Doe', run: 9, assembly: 'A17-002' }, 400],
    ['POST', '/runs/1/entries', { who: 'J. Doe', entry: { kind: 'note', text: 'looked at with a lamp' } }, 200],
    ['POST', '/runs/1/entries', { who: 'J. Doe', entry: { kind: 'note', text: '' } }, 400],
    ['POST', '/runs/1/entries', { who: 'J. Doe', entry: { kind: 'visual-finding', finding: 'perfect' } }, 400],
    // What the program itself seals is nothing that a page may state.
    ['POST', '/runs/1/entries', { who: 'J. Doe', entry: { kind: 'judged-again', plan: 'a'.repeat(64), thresholds: 'a'.repeat(64), outcome: {} } }, 400],
    ['POST', '/runs/1/entries', { who: 'J. Doe', entry: { kind: 'trace-removed' } }, 400],
    ['POST', '/runs/1/entries', { who: 'J. Doe', entry: { kind: 'job', order: 'A/1' } }, 400],
    ['POST', '/runs/1/entries', { who: 'J. Doe', entry: { kind: 'job', order: 'A/1', assemblies: ['A17-001', 'A17-002'], operator: '=HYPERLINK("x")' }, why: 'order was 1' }, 200],
    ['POST', '/runs/7/entries', { who: 'J. Doe', entry: { kind: 'note', text: 'x' } }, 400],
  ])('%s %s with %j is answered %d', async (method, path, body, status) => {
    const answer = await send(method, path, body);
    expect(answer.status).toBe(status);
    if (status >= 400) expect((json(answer) as { error: string }).error).toMatch(/\S/);
  });

  it.each<[string, number, string, RegExp]>([
    ['/runs/1/certificate.pdf', 200, 'application/pdf', /^attachment; filename="provisional-1-\d+\.pdf"$/],
    ['/runs/1/certificate.pdf?view=1&paper=Letter&assembly=a17-002', 200, 'application/pdf', /^inline; filename="provisional-1-\d+-A17-002\.pdf"$/],
    ['/runs/1/label.pdf?width=80', 200, 'application/pdf', /label-1/],
    ['/runs/1/label.txt', 200, 'text/plain; charset=utf-8', /label-1-\d+\.txt"$/],
    ['/runs/1/record.json', 200, 'application/json', /"run-1\.json"$/],
    ['/runs/1/record.csv', 200, 'text/csv; charset=utf-8', /"run-1-findings\.csv"$/],
    ['/runs/1/trace.csv', 200, 'text/csv; charset=utf-8', /"run-1\.csv"$/],
    ['/orders/A%2F1/order.pdf', 200, 'application/pdf', /"order-A_1\.pdf"$/],
    ['/orders/A%2F1/order.zip', 200, 'application/zip', /"order-A_1\.zip"$/],
    ['/runs/9/certificate.pdf', 404, 'application/json; charset=utf-8', /^$/],
    ['/runs/1/certificate.pdf?assembly=B9', 404, 'application/json; charset=utf-8', /^$/],
    ['/runs/1/certificate.pdf?paper=A9', 404, 'application/json; charset=utf-8', /^$/],
    ['/runs/1/label.pdf?width=60', 404, 'application/json; charset=utf-8', /^$/],
    ['/runs/..%2F1/trace.csv', 404, 'application/json; charset=utf-8', /^$/],
    ['/orders/none/order.pdf', 404, 'application/json; charset=utf-8', /^$/],
  ])('GET %s is %d, %s', async (path, status, type, disposition) => {
    const answer = await send('GET', path);
    expect([answer.status, answer.type]).toEqual([status, type]);
    expect(answer.disposition ?? '').toMatch(disposition);
    if (type === 'application/pdf') expect(Number(pdfFacts(answer.bytes)['Pages'])).toBeGreaterThanOrEqual(1);
  });

  it('a text that a spreadsheet would run is made harmless in the table', async () => {
    const table = new TextDecoder().decode((await send('GET', '/runs/1/record.csv')).bytes);
    expect(table).toContain(`"'=HYPERLINK(""x"")"`);
  });

  it('another page of the same browser can neither read nor key in: foreign Origin, foreign Host, a form', async () => {
    const body = { job: { order: 'evil' }, who: 'x' };
    expect((await send('PUT', '/job', body, { origin: 'http://evil.example' })).status).toBe(403);
    expect((await send('POST', '/job/again', 'who=x', { 'content-type': 'application/x-www-form-urlencoded' })).status).toBe(415);
    expect((await send('POST', '/job/again', '{"who":"x"}', { 'content-type': 'text/plain' })).status).toBe(415);
    // fetch sets Host itself.
    const foreign = await new Promise<number | undefined>((resolve, reject) => {
      const { hostname, port } = new URL(server.address);
      httpRequest({ hostname, port, path: '/api/benches/north%20bench/job', headers: { host: 'evil.example' } }, (answer) => resolve(answer.resume().statusCode)).on('error', reject).end();
    });
    expect(foreign).toBe(403);
    expect(JSON.stringify(json(await send('GET', '/job')))).not.toContain('evil');
  });

  it('does not know other benches', async () => {
    expect((await fetch(`${server.address}/api/benches/south%20bench/job`)).status).toBe(404);
  });
});
