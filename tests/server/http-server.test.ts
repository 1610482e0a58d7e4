import { once } from 'node:events';
import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { createServer, request, type IncomingHttpHeaders } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { InputError } from '../../src/core/problems.js';
import { HttpServer } from '../../src/server/http-server.js';
import { runOf, ScriptedFeed } from './scripted-feed.js';

let pages: string;
let server: HttpServer;
const feed = new ScriptedFeed('bench 1/a');

beforeAll(async () => {
  pages = await mkdtemp(join(tmpdir(), 'dwellkeeper-http-'));
  await mkdir(join(pages, 'live'));
  await mkdir(join(pages, 'assets'));
  await writeFile(join(pages, 'live', 'index.html'), '<!doctype html><title>live</title>');
  await writeFile(join(pages, 'assets', 'a-123.js'), 'export {};');
  feed.give(...Array.from({ length: 100 }, (_, i) => [i / 10, i === 50 ? Number.NaN : 350] as const));
  feed.runs = [runOf({ id: '9', from: 0, to: 10, verdict: 'fail', reasons: ['leak above limit'] })];
  server = await HttpServer.start({ benches: [feed], pages });
});
afterAll(async () => {
  await server.close();
  await rm(pages, { recursive: true, force: true });
});

interface Answer { readonly status: number; readonly headers: IncomingHttpHeaders; readonly body: string }
function ask(path: string, headers: Record<string, string> = {}, method = 'GET', body = ''): Promise<Answer> {
  const { port } = new URL(server.address);
  return new Promise((resolve, reject) => {
    const sent = request({ host: '127.0.0.1', port, path, method, headers: { host: `127.0.0.1:${port}`, ...headers } }, (answer) => {
      let text = '';
      answer.setEncoding('utf8').on('data', (part: string) => (text += part)).on('end', () => resolve({ status: answer.statusCode ?? 0, headers: answer.headers, body: text }));
    });
    sent.on('error', reject);
    sent.end(body);
  });
}
const port = () => new URL(server.address).port;

describe('pages and JSON', () => {
  it('are there', async () => {
    expect((await ask('/')).headers.location).toBe('/live/');
    expect((await ask('/live/')).body).toContain('<title>live</title>');
    expect(JSON.parse((await ask('/api/benches')).body)).toMatchObject([{ name: 'bench 1/a', unit: 'bar', phase: 'vented', health: { recording: true } }]);
    expect(JSON.parse((await ask('/api/benches/bench%201%2Fa/runs?limit=5')).body)).toMatchObject([{ id: '9', verdict: 'fail' }]);
  });

  it('FC-35: a missing sample is null in JSON, not 0', async () => {
    for (const query of ['run=9&columns=1000', 'from=0&to=10&columns=1000']) {
      const { pressure_bar } = JSON.parse((await ask(`/api/benches/bench%201%2Fa/envelope?${query}`)).body) as { pressure_bar: (number | null)[] };
      expect(pressure_bar.filter((p) => p === null)).toHaveLength(1);
      expect(pressure_bar).not.toContain(0);
    }
  });

  it.each([
    ['/api/benches/none/runs', 404, 'no bench of that name'],
    ['/api/benches/none/envelope?run=9', 404, 'no bench of that name'],
    ['/api/benches/bench%201%2Fa/envelope?run=77', 404, 'no such run'],
    ['/api/benches/bench%201%2Fa/envelope?from=5&to=2', 400, 'to after from'],
    ['/api/benches/bench%201%2Fa/envelope?run=9&columns=900000', 400, '1 to 4000'],
    ['/api/benches/bench%201%2Fa/runs?limit=-1', 400, '1 to 500'],
    ['/../../package.json', 403, ''],
    ['/live/..%2f..%2fpackage.json', 404, ''],
  ])('%s is answered by %i in words', async (path, status, words) => {
    const answer = await ask(path);
    expect(answer.status).toBe(status);
    expect(answer.body).toContain(words);
    expect(answer.body).not.toContain('"dependencies"');
  });

  it('refuse a body that is too large', async () => {
    expect((await ask('/api/benches', { 'content-type': 'application/json' }, 'POST', `"${'x'.repeat(70_000)}"`)).status).toBeGreaterThanOrEqual(400);
  });

  it('carry a strict content security policy, also on errors', async () => {
    for (const path of ['/live/', '/api/benches', '/nothing', '/assets/a-123.js']) {
      const { headers } = await ask(path);
      const policy = String(headers['content-security-policy']);
      expect(policy).toContain("default-src 'none'");
      expect(policy).toContain("script-src 'self'");
      expect(policy).toContain("frame-ancestors 'none'");
      expect(policy).toContain(`ws://127.0.0.1:${port()}`);
      expect(policy).not.toMatch(/unsafe|\*|https?:|data:/);
      expect(headers['x-content-type-options']).toBe('nosniff');
    }
  });

  it('are asked for again each time, save for files with a hash in their name', async () => {
    expect((await ask('/live/')).headers['cache-control']).toBe('no-cache');
    expect((await ask('/assets/a-123.js')).headers['cache-control']).toContain('immutable');
  });
});

describe('who may use the server', () => {
  it.each(['localhost', '127.0.0.1', '[::1]', 'LOCALHOST'])('goes by the name %s', async (name) => {
    expect((await ask('/api/benches', { host: `${name}:${port()}` })).status).toBe(200);
  });
  it.each(['shop.example', 'shop.example:PORT', '127.0.0.1', '127.0.0.1.shop.example:PORT', '127.0.0.1:1', 'localhost:PORT@shop.example'])('not by the name %s, which could have been pointed here', async (name) => {
    const { status, body } = await ask('/api/benches', { host: name.replace('PORT', port()) });
    expect(status).toBe(403);
    expect(body).toContain('does not go by the name');
  });
  it.each(['http://shop.example', 'null', 'https://127.0.0.1:PORT', 'http://127.0.0.1:1', 'http://127.0.0.1:PORT.shop.example'])('pages of %s may not', async (origin) => {
    const { status, body } = await ask('/api/benches', { origin: origin.replace('PORT', port()) });
    expect(status).toBe(403);
    expect(body).toContain('may not use this server');
  });
  it('its own pages may', async () => expect((await ask('/api/benches', { origin: server.address })).status).toBe(200));
});

describe('starting', () => {
  it.each(['0.0.0.0', '::', '192.168.4.20', 'bench.example', '127.0.0.1.shop.example', '128.0.0.1', ''])("refuses to serve '%s' in one sentence and opens nothing", async (address) => {
    const failure = await HttpServer.start({ benches: [feed], pages, address, source: 'bench.yaml' }).catch((error: unknown) => error);
    expect(failure).toBeInstanceOf(InputError);
    expect(String(failure)).toContain(`bench.yaml: address: '${address}' can be reached from other machines, and that needs people to be set up first`);
  });
  it('says so when the port is taken', async () => {
    const other = createServer().listen(0, '127.0.0.1');
    await once(other, 'listening');
    const taken = (other.address() as AddressInfo).port;
    await expect(HttpServer.start({ benches: [feed], pages, port: taken, source: 'bench.yaml' })).rejects.toThrow(`bench.yaml: page.port: 127.0.0.1:${taken} cannot be listened on (another program has it); choose another port`);
    other.close();
  });
  it('says so when the pages were never built', async () => {
    await expect(HttpServer.start({ benches: [feed], pages: join(pages, 'nowhere') })).rejects.toThrow('the pages are not built; run npm run build first');
  });
});
