/**
 * 200 pages that watch one bench at 1 kHz, some of them stuck, through the whole daemon, its store and its server:
 *
 *     npm run bench -- viewers [seconds]
 *
 * Instrument and pages are in processes of their own. Says how many readings were missed on the way into the store and on
 * the way to the pages, and what it cost.
 */
import { fork, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type AddressInfo } from 'node:net';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { fileURLToPath } from 'node:url';
import { pino } from 'pino';
import { WebSocket } from 'ws';
import { realWiring } from '../../drivers/real-wiring.js';
import { FrontDoor } from '../../src/access/front-door.js';
import { hashSecret } from '../../src/access/secret-hash.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { BenchDaemon } from '../../src/daemon/bench-daemon.js';
import { standard } from '../../src/daemon/bench-setup.js';
import { HttpServer } from '../../src/server/http-server.js';
import { decodeFrame } from '../../src/sinks/live-frame.js';
import { readServerMessage } from '../../src/sinks/live-protocol.js';

const pages = 200;
const stuck = 10;
const rate = 1000;
const own = fileURLToPath(import.meta.url);

/** An instrument that sends a line each ms; the reading counts up, so that a missing one shows. */
async function instrument(): Promise<void> {
  let sent = 0;
  let began = NaN;
  const server = createServer({ noDelay: true }, (socket) => {
    // A link that was opened anew goes on counting: what was not read meanwhile is missing.
    if (Number.isNaN(began)) began = performance.now();
    const timer = setInterval(() => {
      let lines = '';
      for (const due = Math.floor(((performance.now() - began) * rate) / 1000); sent < due; sent++) lines += `${(sent % 90_000) / 100} bar\r\n`;
      if (lines !== '') socket.write(lines);
    }, 1);
    socket.on('error', () => undefined);
    socket.on('close', () => clearInterval(timer));
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  process.send?.((server.address() as AddressInfo).port);
}

/** Pages as browsers are: they follow, say a heartbeat each second and read what comes; the stuck ones stop reading. */
function watchers(): void {
  process.on('message', ({ address, cookie }: { address: string; cookie: string }) => {
    const found = { open: 0, samples: 0, holes: 0, closed: 0, late: 0 };
    const newest: number[] = [];
    for (let i = 0; i < pages; i++) {
      const socket = new WebSocket(`${address.replace('http', 'ws')}/live/socket?bench=viewers`, { headers: { origin: address, cookie } });
      socket.on('open', () => found.open++);
      socket.on('close', () => found.closed++);
      socket.on('error', () => undefined);
      socket.on('message', (raw: Buffer, binary: boolean) => {
        if (binary) {
          const frame = decodeFrame(raw);
          if (frame === null) return;
          const last = newest[i];
          if (last !== undefined && frame.first !== last + 1) found.holes++;
          newest[i] = frame.first + frame.time.length - 1;
          found.samples += frame.time.length;
          return;
        }
        const message = readServerMessage(raw.toString());
        if (message?.kind !== 'hello') return;
        socket.send(JSON.stringify({ kind: 'follow', session: message.session, after: null }));
        if (i < stuck) setTimeout(() => socket.pause(), 3000);
        else setInterval(() => socket.readyState === socket.OPEN && socket.send(JSON.stringify({ kind: 'heartbeat', at: performance.now() })), 1000);
      });
    }
    const told = (): void => void process.send?.({ ...found, newest: Math.min(...newest.slice(stuck)) });
    setInterval(told, 1000);
  });
}

interface Watched { open: number; samples: number; holes: number; closed: number; newest: number }

async function measure(seconds: number): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-viewers-'));
  mkdirSync(join(folder, 'pages/live'), { recursive: true });
  writeFileSync(join(folder, 'pages/live/index.html'), 'live');
  const peers: ChildProcess[] = [];
  const start = (role: string): ChildProcess => {
    const peer = fork(own, [role], { stdio: ['ignore', 'inherit', 'inherit', 'ipc'] });
    peers.push(peer);
    return peer;
  };
  const source = start('instrument');
  const [port] = (await once(source, 'message')) as [number];
  const bench = parseBench({ bench: 'viewers', channels: [{ input: { driver: 'tcp-line', host: '127.0.0.1', port }, unit: 'bar', range: { upper: '1000 bar' } }] }, join(folder, 'bench.yaml'));
  const daemon = new BenchDaemon({ bench, judging: { plan: null, thresholds: standard }, wiring: realWiring, log: pino({ level: 'silent' }), software: 'bench' });
  const door = new FrontDoor({ people: [{ name: 'wall', role: 'viewer', secret: await hashSecret('look-only-1') }] });
  const server = await HttpServer.start({ benches: [daemon.feed], pages: join(folder, 'pages'), door });
  let heard = 0;
  const lost: string[] = [];
  daemon.listen({
    heard: (item) => {
      if (item.kind === 'sample') heard++;
      if (item.kind === 'mark' && item.mark.kind === 'signal-lost') lost.push(`after ${heard} readings: ${item.mark.text}`);
    },
  });
  const say = (what: string, value: string) => console.log(`${what.padEnd(72)} ${value}`);
  try {
    daemon.start();
    const answer = await door.signIn('wall', 'look-only-1', 'here');
    if (answer.is !== 'in') throw new Error(answer.is);
    const given = await fetch(`${server.address}/api/sign-in`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ name: 'wall', secret: 'look-only-1' }) });
    const watching = start('watchers');
    let watched: Watched = { open: 0, samples: 0, holes: 0, closed: 0, newest: 0 };
    watching.on('message', (news) => (watched = news as Watched));
    watching.send({ address: server.address, cookie: (given.headers.get('set-cookie') ?? '').split(';')[0] ?? '' });
    while (watched.open < pages) await new Promise((resolve) => setTimeout(resolve, 200));
    const delay = monitorEventLoopDelay({ resolution: 5 });
    delay.enable();
    const [began, cpu] = [performance.now(), process.cpuUsage()];
    let most = 0;
    const looking = setInterval(() => (most = Math.max(most, server.waiting)), 100);
    await new Promise((resolve) => setTimeout(resolve, seconds * 1000));
    clearInterval(looking);
    const took = (performance.now() - began) / 1000;
    const { user, system } = process.cpuUsage(cpu);
    say(`${pages} pages, ${stuck} of them stuck, one channel at ${rate} Hz, for`, `${took.toFixed(0)} s on ${cpus().length} processors`);
    say('  pages let go because they took nothing for too long', `${watched.closed} of ${stuck} stuck ones`);
    say('  readings sent to the other pages, and holes in them', `${watched.samples}, ${watched.holes}`);
    say('  most that waited for all pages together', `${(most / 1e6).toFixed(1)} MB`);
    say('  event loop late, median / 99 % / longest', `${[50, 99, 100].map((share) => (delay.percentile(share) / 1e6).toFixed(0)).join(' / ')} ms`);
    say('  processor of the daemon, server and store', `${((user + system) / 1e4 / took).toFixed(0)} % of one core`);
    const stored = storedOf(daemon);
    say('  readings heard, and stored', `${heard}, ${stored.count}`);
    say('  readings missing between the first and the last stored', String(stored.missing));
    say('  times that the link was lost', [lost.length, ...lost].join(', '));
  } finally {
    daemon.stop();
    await server.close();
    peers.forEach((peer) => peer.kill());
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Counts what lies in the store by the numbers that the instrument gave its readings. */
function storedOf(daemon: BenchDaemon): { readonly count: number; readonly missing: number } {
  const { records } = daemon;
  const [channel] = records?.channels.list() ?? [];
  if (records === null || channel === undefined) throw new Error('nothing is recorded');
  records.flush();
  let [count, missing] = [0, 0];
  let last: number | null = null;
  for (const { pressure } of records.traces.inTurn(channel.id, -Infinity, Infinity, records.traces.received(channel.id))) {
    for (const value of pressure) {
      const number = Math.round(value * 100);
      if (last !== null) missing += (number - last - 1 + 90_000) % 90_000;
      last = number;
      count++;
    }
  }
  return { count, missing };
}

if (process.argv[2] === 'instrument') await instrument();
else if (process.argv[2] === 'watchers') watchers();
else await measure(Number(process.argv[2] ?? 60));
