import { once } from 'node:events';
import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import type { IncomingMessage } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { WebSocket } from 'ws';
import { decodeFrame } from '../../src/sinks/live-frame.js';
import { readServerMessage, type ServerMessage } from '../../src/sinks/live-protocol.js';
import { HttpServer } from '../../src/server/http-server.js';
import { ScriptedFeed } from './scripted-feed.js';
import { until } from './until.js';

let pages: string;
let server: HttpServer;
let feed: ScriptedFeed;

beforeEach(async () => {
  pages = await mkdtemp(join(tmpdir(), 'dwellkeeper-ws-'));
  await mkdir(join(pages, 'live'));
  await writeFile(join(pages, 'live', 'index.html'), 'live');
  feed = new ScriptedFeed('bench one');
  server = await HttpServer.start({ benches: [feed], pages, mostViewers: 3, limits: { waiting: 100_000, stall: 2000, history: 1e6 } });
});
afterEach(async () => {
  await server.close();
  await rm(pages, { recursive: true, force: true });
});

/** A real client that writes down what it gets. */
class Client {
  readonly texts: ServerMessage[] = [];
  readonly numbers: number[] = [];
  readonly pressures: number[] = [];
  code: number | null = null;
  readonly socket: WebSocket;
  constructor(after: number | null = null, query = '?bench=bench%20one', headers: Record<string, string> = { origin: server.address }) {
    this.socket = new WebSocket(`${server.address.replace('http', 'ws')}/live/socket${query}`, { headers });
    this.socket.on('message', (raw: Buffer, binary) => {
      if (binary) {
        const frame = decodeFrame(raw);
        frame?.time.forEach((_, i) => {
          this.numbers.push(frame.first + i);
          this.pressures.push(frame.pressure[i] ?? Number.NaN);
        });
        return;
      }
      const message = readServerMessage(raw.toString());
      if (!message) throw new Error(`not a message: ${raw.toString()}`);
      this.texts.push(message);
      if (message.kind === 'hello') this.say({ kind: 'follow', session: message.session, after });
    });
    this.socket.on('close', (code) => (this.code = code));
    this.socket.on('error', () => {});
  }
  say(message: unknown): void { this.socket.send(JSON.stringify(message)); }
  last<K extends ServerMessage['kind']>(kind: K): Extract<ServerMessage, { kind: K }> | undefined {
    return this.texts.findLast((message): message is Extract<ServerMessage, { kind: K }> => message.kind === kind);
  }
  /** What an upgrade that was refused answered. */
  async refusal(): Promise<{ status: number; body: string }> {
    const [, answer] = (await once(this.socket, 'unexpected-response')) as [unknown, IncomingMessage];
    let body = '';
    for await (const part of answer) body += String(part);
    return { status: answer.statusCode ?? 0, body };
  }
}
const give = (count: number) => {
  const begin = feed.time.length;
  feed.give(...Array.from({ length: count }, (_, i) => [(begin + i) / 100, 350 + ((begin + i) % 7)] as const));
};
const range = (from: number, to: number) => Array.from({ length: to - from }, (_, i) => from + i);

describe('live data over a real WebSocket', () => {
  it('greets, tells the state, sends samples and goes on; NaN stays NaN', async () => {
    give(5000);
    feed.give([60, Number.NaN]);
    const client = new Client();
    await until('the history', () => client.numbers.length === 5001);
    give(10);
    feed.show({ phase: 'rising', sentence: 'rising, 38 bar below the band' });
    await until('what follows', () => client.numbers.length === 5011 && client.last('view') !== undefined);
    expect(client.numbers).toEqual(range(0, 5011));
    expect(client.pressures[5000]).toBeNaN();
    expect(client.pressures).not.toContain(0);
    expect(client.last('hello')?.setup.plan).toMatchObject({ testPressure: 550, reach: 544.5, holdFloor: 530, ceiling: 600 });
    expect(client.last('view')?.view).toMatchObject({ phase: 'rising', sentence: 'rising, 38 bar below the band' });
    expect(client.socket.extensions).toBe('');
  });

  it('FC-32: fills the gap of a client that comes back, by sequence number', async () => {
    give(100);
    const before = new Client();
    await until('the first part', () => before.numbers.length === 100);
    before.socket.terminate();
    give(6000);
    feed.give([70, 412.7]);
    const back = new Client(99);
    await until('the missing part', () => back.numbers.length === 6001);
    expect(back.numbers).toEqual(range(100, 6101));
    expect(Math.max(...back.pressures)).toBeCloseTo(412.7, 4);
  });

  it('answers a heartbeat with the page\'s own clock', async () => {
    const client = new Client();
    await until('the greeting', () => client.last('snapshot') !== undefined);
    client.say({ kind: 'heartbeat', at: 4711 });
    await until('the echo', () => client.last('heartbeat')?.echo?.at === 4711);
    expect(client.last('heartbeat')?.echo?.held).toBeGreaterThanOrEqual(0);
  });

  it('FC-31: 60 000 messages past a client that stopped reading: the queue stays bounded and the other client misses nothing', async () => {
    const [good, bad] = [new Client(), new Client()];
    await until('both are watching', () => good.last('snapshot') !== undefined && bad.last('snapshot') !== undefined);
    bad.socket.pause();
    const note = 'x'.repeat(500);
    let most = 0;
    for (let second = 0; second < 600; second++) {
      for (let i = 0; i < 100; i++) {
        give(1);
        feed.find({ kind: 'stroke', at: feed.time.length / 100, note });
      }
      if (second % 5 === 4) await until('the good client keeps up', () => good.numbers.length === feed.time.length);
      most = Math.max(most, server.waiting);
    }
    expect(good.numbers).toEqual(range(0, 60_000));
    expect(good.texts.filter(({ kind }) => kind === 'event')).toHaveLength(60_000);
    // Some 35 MB were sent to each.
    expect(most).toBeLessThan(5e6);
    bad.socket.resume();
    await until('the bad client is made good or let go', () => bad.code !== null || bad.numbers.length === 60_000);
  });

  it('lets a client go that sends anything but the protocol, or too much of it', async () => {
    const [rude, long, binary] = [new Client(), new Client(), new Client()];
    await until('all are greeted', () => [rude, long, binary].every((c) => c.last('snapshot')));
    rude.say({ kind: 'stop the pump' });
    long.socket.send('x'.repeat(10_000));
    binary.socket.send(Buffer.of(1, 2, 3));
    await until('all are gone', () => [rude, long, binary].every((c) => c.code !== null));
    expect([rude.code, long.code, binary.code]).toEqual([4000, 1009, 4000]);
    await until('the server has forgotten them', () => server.viewers === 0);
  });

  it('takes no more viewers than its limit, and takes one again when another leaves', async () => {
    const three = [new Client(), new Client(), new Client()];
    await until('three are in', () => three.every((c) => c.last('hello')));
    expect(await new Client().refusal()).toEqual({ status: 503, body: '3 pages are watching already; close one of them\n' });
    three[0]?.socket.close();
    await until('one has left', () => server.viewers === 2);
    const late = new Client();
    await until('the late one is in', () => late.last('hello') !== undefined);
  });

  it.each([
    ['another page', { origin: 'http://shop.example' }, 403, "pages of 'http://shop.example' may not use this server"],
    ['no page at all', {}, 403, 'the request names no page (Origin)'],
    ['another host name', { origin: 'http://shop.example', host: 'shop.example' }, 403, "does not go by the name 'shop.example'"],
  ])('refuses %s', async (_who, headers: Record<string, string>, status, words) => {
    const answer = await new Client(null, '?bench=bench%20one', headers).refusal();
    expect(answer.status).toBe(status);
    expect(answer.body).toContain(words);
  });

  it('knows no other bench and no other place', async () => {
    expect(await new Client(null, '?bench=two').refusal()).toEqual({ status: 404, body: "no bench is named 'two'\n" });
    expect((await new Client(null, '/else?bench=bench%20one').refusal()).status).toBe(404);
  });

  it('says goodbye when the server stops, and no listener stays behind', async () => {
    const client = new Client();
    await until('it watches', () => client.last('snapshot') !== undefined);
    expect(feed.listeners.size).toBe(1);
    await server.close();
    await until('goodbye', () => client.code !== null);
    expect([client.code, feed.listeners.size]).toEqual([1001, 0]);
  });
});
