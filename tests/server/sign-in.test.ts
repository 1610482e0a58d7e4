import { once } from 'node:events';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { request, type IncomingMessage } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { WebSocket } from 'ws';
import { FrontDoor, workingRule } from '../../src/access/front-door.js';
import { HttpServer } from '../../src/server/http-server.js';
import { nameOf, peopleOfTests, secrets } from '../access/people-of-tests.js';
import { ScriptedFeed } from './scripted-feed.js';
import { until } from './until.js';

let folder: string;
let clock: { now: number };
let door: FrontDoor;
let server: HttpServer;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-sign-in-'));
  mkdirSync(join(folder, 'live'));
  writeFileSync(join(folder, 'live', 'index.html'), 'live');
  clock = { now: 5e6 };
  door = new FrontDoor({ people: await peopleOfTests(), now: () => clock.now });
  server = await HttpServer.start({ benches: [new ScriptedFeed('north')], pages: folder, address: '0.0.0.0', door, names: ['bench2.shop.example'] });
});
afterEach(async () => {
  await server.close();
  rmSync(folder, { recursive: true, force: true });
});

const port = (): string => new URL(server.address).port;
const here = (): string => `http://127.0.0.1:${port()}`;
const post = (path: string, body: unknown, headers: Record<string, string> = {}): Promise<Response> =>
  fetch(here() + path, { method: 'POST', headers: { 'content-type': 'application/json', ...headers }, body: JSON.stringify(body) });
const signIn = (name = nameOf('operator'), secret: string = secrets.operator, headers: Record<string, string> = {}) => post('/api/sign-in', { name, secret }, headers);
const cookieOf = (answer: Response): string => (answer.headers.get('set-cookie') ?? '').split(';')[0] ?? '';
const me = async (cookie: string): Promise<unknown> => (await fetch(`${here()}/api/me`, { headers: { cookie } })).json();

/** Status of a request from an address of this computer, under a name of the server. */
const askedFrom = (localAddress: string, host: string): Promise<number> =>
  new Promise((resolve, reject) => {
    request({ host: '127.0.0.1', port: port(), localAddress, path: '/api/me', headers: { host } }, (answer) => resolve(answer.resume().statusCode ?? 0)).on('error', reject).end();
  });

/** A page that watches live data; what becomes of it. */
class Watcher {
  code: number | null = null;
  heard = 0;
  refused: number | null = null;
  private readonly socket: WebSocket;
  constructor(cookie: string | null, origin = here()) {
    this.socket = new WebSocket(`${here().replace('http', 'ws')}/live/socket?bench=north`, { headers: { origin, ...(cookie !== null && { cookie }) } });
    this.socket.on('message', () => this.heard++);
    this.socket.on('close', (code) => (this.code = code));
    this.socket.on('error', () => undefined);
    this.socket.on('unexpected-response', (_request, answer: IncomingMessage) => (this.refused = answer.statusCode ?? 0));
  }
  settled = (): Promise<void> => until('it is let in or not', () => this.heard > 0 || this.refused !== null);
}

describe('signing in over HTTP', () => {
  it('gives a cookie that scripts cannot read and other sites cannot send, and takes it away again', async () => {
    const answer = await signIn();
    expect(answer.status).toBe(200);
    expect(await answer.json()).toEqual({ signIn: true, person: { name: 'J. Doe', role: 'operator' } });
    const set = answer.headers.get('set-cookie') ?? '';
    expect(set).toMatch(/^dwellkeeper-[0-9a-f]{8}=[\w-]{43}; Max-Age=43200; Path=\/; HttpOnly; SameSite=Strict$/);
    const cookie = cookieOf(answer);
    expect(await me(cookie)).toEqual({ signIn: true, person: { name: 'J. Doe', role: 'operator' } });
    const out = await post('/api/sign-out', {}, { cookie });
    expect(out.headers.get('set-cookie')).toMatch(/=; .*(Max-Age=0|Expires=Thu, 01 Jan 1970)/);
    expect(await me(cookie)).toEqual({ signIn: true, person: null });
    expect((await fetch(`${here()}/api/benches`, { headers: { cookie } })).status).toBe(401);
  });

  it.each([['a wrong secret', 'J. Doe', '480272'], ['a name that nobody has', 'N. Obody', '480271']])('%s is answered in the same words', async (_what, name, secret) => {
    const answer = await signIn(name, secret);
    expect(answer.status).toBe(401);
    expect(answer.headers.get('set-cookie')).toBeNull();
    expect(await answer.json()).toEqual({ error: 'the name, or the PIN or pass phrase, is not right' });
  });

  it.each([[{}], [{ name: 'J. Doe' }], [{ name: 'J. Doe', secret: 480271 }], [{ name: 'J. Doe', secret: '480271', role: 'engineer' }], [{ name: 'J. Doe', secret: 'x'.repeat(201) }], [['J. Doe', '480271']]])('%j is no way to sign in', async (body) => {
    expect((await post('/api/sign-in', body)).status).toBe(400);
  });

  it('takes no long text', async () => expect((await signIn('J. Doe', 'x'.repeat(3000))).status).toBe(413));

  it('says when to try again once it was tried too often', async () => {
    for (let i = 0; i < 6; i++) await signIn('J. Doe', `guess ${i}`);
    const answer = await signIn();
    expect([answer.status, answer.headers.get('retry-after')]).toEqual([429, '1']);
    clock.now += 1000;
    expect((await signIn()).status).toBe(200);
  });

  it('another page of the same browser can neither sign in nor out, nor use a session', async () => {
    const cookie = cookieOf(await signIn());
    for (const origin of ['http://evil.example', 'null', `https://127.0.0.1:${port()}`]) {
      expect((await signIn('J. Doe', secrets.operator, { origin })).status).toBe(403);
      expect((await post('/api/sign-out', {}, { origin, cookie })).status).toBe(403);
      expect((await fetch(`${here()}/api/benches`, { headers: { origin, cookie } })).status).toBe(403);
    }
    expect(await me(cookie)).toMatchObject({ person: { name: 'J. Doe' } });
  });

  it('whoever asks too much is asked to wait, and nobody else is', async () => {
    const statuses = new Map<number, number>();
    for (let i = 0; i < 16; i++) {
      const answers = await Promise.all(Array.from({ length: 100 }, () => fetch(`${here()}/api/me`).then(async (answer) => (await answer.text(), answer.status))));
      for (const status of answers) statuses.set(status, (statuses.get(status) ?? 0) + 1);
    }
    expect(statuses.get(200)).toBe(1500);
    expect(statuses.get(429)).toBe(100);
    const answer = await fetch(`${here()}/api/me`);
    expect(((await answer.json()) as { error: string }).error).toMatch(/^too many requests from this address; try again in /);
    expect(await askedFrom('127.0.0.2', `127.0.0.1:${port()}`)).toBe(200);
  });
});

describe('names of the server', () => {
  it.each([
    ['bench2.shop.example:PORT', 200],
    ['BENCH2.shop.example:PORT', 200],
    ['127.0.0.1:PORT', 200],
    ['localhost:PORT', 200],
    ['bench2.shop.example', 403],
    ['evil.example:PORT', 403],
    ['x.bench2.shop.example:PORT', 403],
    ['bench2.shop.example.evil.example:PORT', 403],
    // An address in numbers that this computer does not have, and the one that it listens on, which is none.
    ['203.0.113.7:PORT', 403],
    ['0.0.0.0:PORT', 403],
  ])("'%s': %i", async (host, status) => expect(await askedFrom('127.0.0.1', host.replace('PORT', port()))).toBe(status));
});

describe('live data', () => {
  it('is for whoever is signed in, through a page of this server', async () => {
    const cookie = cookieOf(await signIn(nameOf('viewer'), secrets.viewer));
    const flipped = cookie.replace(/.$/, (last) => (last === 'A' ? 'B' : 'A'));
    const right = new Watcher(cookie);
    const others = [new Watcher(null), new Watcher(flipped), new Watcher('dwellkeeper-00000000=x'), new Watcher(cookie, 'http://evil.example'), new Watcher(cookie, 'null')];
    for (const watcher of [right, ...others]) await watcher.settled();
    expect(right.refused).toBeNull();
    expect(others.map(({ refused, heard }) => [refused, heard])).toEqual([[401, 0], [401, 0], [401, 0], [403, 0], [403, 0]]);
    expect(server.viewers).toBe(1);
  });

  it('ends as the session ends: signed out', async () => {
    const [cookie, other] = [cookieOf(await signIn()), cookieOf(await signIn())];
    const [one, two] = [new Watcher(cookie), new Watcher(other)];
    await Promise.all([one.settled(), two.settled()]);
    await post('/api/sign-out', {}, { cookie });
    await until('its socket is closed', () => one.code !== null);
    expect([one.code, two.code]).toEqual([4001, null]);
  });

  it('ends as the session ends: too long idle, and such a session lets no other in', async () => {
    const cookie = cookieOf(await signIn());
    const watcher = new Watcher(cookie);
    await watcher.settled();
    clock.now += workingRule.idle;
    door.sweep();
    await until('its socket is closed', () => watcher.code !== null);
    expect(watcher.code).toBe(4001);
    const late = new Watcher(cookie);
    await late.settled();
    expect(late.refused).toBe(401);
  });

  it('ends as the session ends: taken off the list', async () => {
    const cookie = cookieOf(await signIn());
    const watcher = new Watcher(cookie);
    await watcher.settled();
    door.use((await peopleOfTests()).filter(({ role }) => role !== 'operator'));
    await until('its socket is closed', () => watcher.code !== null);
    expect(watcher.code).toBe(4001);
  });

  it('signing in anew at the same screen ends what was before', async () => {
    const cookie = cookieOf(await signIn());
    const watcher = new Watcher(cookie);
    await watcher.settled();
    await signIn(nameOf('engineer'), secrets.engineer, { cookie });
    await until('its socket is closed', () => watcher.code !== null);
    expect(await me(cookie)).toMatchObject({ person: null });
  });

  it('forgets a closed socket: its session ends without it', async () => {
    const cookie = cookieOf(await signIn());
    const socket = new WebSocket(`${here().replace('http', 'ws')}/live/socket?bench=north`, { headers: { origin: here(), cookie } });
    await once(socket, 'message');
    socket.terminate();
    await until('the server has forgotten it', () => server.viewers === 0);
    expect((await post('/api/sign-out', {}, { cookie })).status).toBe(200);
  });
});
