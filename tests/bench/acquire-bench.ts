/**
 * 16 pressure channels at 100 Hz from four Modbus TCP instruments, through the whole daemon into a store:
 *
 *     npm run bench -- acquire [seconds]
 *
 * The instruments are in a process of their own. Says how many polls were missed, and what it cost.
 */
import { fork } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { createServer, type AddressInfo } from 'node:net';
import { cpus, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { fileURLToPath } from 'node:url';
import { pino } from 'pino';
import { realWiring } from '../../drivers/real-wiring.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import type { Acquired } from '../../src/acquisition/acquire.js';
import { BenchDaemon } from '../../src/daemon/bench-daemon.js';
import { standard } from '../../src/daemon/bench-setup.js';

const instruments = 4;
const channelsEach = 4;
const rate = 100;

/** Answers every question with floats near 450 bar, at once. */
async function serve(): Promise<void> {
  const ports: number[] = [];
  for (let i = 0; i < instruments; i++) {
    let count = 0;
    const server = createServer({ noDelay: true }, (socket) => {
      let bytes = Buffer.alloc(0);
      socket.on('error', () => undefined);
      socket.on('data', (chunk) => {
        bytes = Buffer.concat([bytes, chunk]);
        for (; bytes.length >= 12; bytes = bytes.subarray(12)) {
          const registers = bytes.readUInt16BE(10);
          const answer = Buffer.alloc(9 + registers * 2);
          bytes.copy(answer, 0, 0, 4);
          answer.writeUInt16BE(3 + registers * 2, 4);
          answer.set([bytes[6] ?? 1, bytes[7] ?? 3, registers * 2], 6);
          for (let at = 9; at + 4 <= answer.length; at += 4) answer.writeFloatBE(Math.round(45_000 + 100 * Math.sin(count++ * 0.7)) / 100, at);
          socket.write(answer);
        }
      });
    });
    server.listen(0, '127.0.0.1');
    await once(server, 'listening');
    ports.push((server.address() as AddressInfo).port);
  }
  process.send?.(ports);
}

async function measure(seconds: number): Promise<void> {
  const peer = fork(fileURLToPath(import.meta.url), ['serve'], { stdio: ['ignore', 'inherit', 'inherit', 'ipc'] });
  const [ports] = (await once(peer, 'message')) as [number[]];
  const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-bench-'));
  const names = ports.flatMap((_, i) => Array.from({ length: channelsEach }, (_unused, k) => ({ instrument: `i${i}`, channel: `c${i}-${k}`, value: `v${k}` })));
  const bench = parseBench(
    {
      bench: 'sixteen',
      instruments: ports.map((port, i) => ({
        instrument: `i${i}`,
        input: { driver: 'modbus-tcp', host: '127.0.0.1', port, addressBase: 0, every: `${1000 / rate} ms`, values: Array.from({ length: channelsEach }, (_unused, k) => ({ value: `v${k}`, address: 2 * k, type: 'float32' })) },
      })),
      channels: names.map((name, i) => ({ ...name, unit: 'bar', range: { upper: '1000 bar' }, ...(i > 0 && { place: 'elsewhere' }) })),
    },
    join(folder, 'bench.yaml'),
  );
  const daemon = new BenchDaemon({ bench, judging: { plan: null, thresholds: standard }, wiring: realWiring, log: pino({ level: 'silent' }), software: 'bench' });
  const counts = { good: 0, flagged: 0, skipped: 0 };
  let counting = false;
  let worst = 0;
  const last = new Map<string, number>();
  daemon.listen({
    heard(item: Acquired) {
      if (!counting) return;
      if (item.kind === 'sample') {
        counts[item.flags === 0 ? 'good' : 'flagged']++;
        worst = Math.max(worst, item.time - (last.get(item.channel) ?? item.time));
        last.set(item.channel, item.time);
      } else if (item.kind === 'notice' && item.code === 'poll-skipped') counts.skipped += item.count ?? 1;
    },
  });
  try {
    daemon.start();
    await new Promise((resolve) => setTimeout(resolve, 5000));
    counting = true;
    const delay = monitorEventLoopDelay({ resolution: 1 });
    delay.enable();
    const [began, cpu] = [performance.now(), process.cpuUsage()];
    await new Promise((resolve) => setTimeout(resolve, seconds * 1000));
    counting = false;
    delay.disable();
    const took = (performance.now() - began) / 1000;
    const { user, system } = process.cpuUsage(cpu);
    const channels = instruments * channelsEach;
    const polls = Math.round(took * rate) * instruments;
    const say = (what: string, value: string) => console.log(`${what.padEnd(66)} ${value}`);
    say(`${channels} channels at ${rate} Hz from ${instruments} instruments, for`, `${took.toFixed(0)} s on ${cpus().length} processors`);
    say('  samples, and what was expected', `${counts.good} of ${Math.round(took * rate) * channels}`);
    say('  polls missed', `${counts.skipped} of ${polls} (${((100 * counts.skipped) / polls).toFixed(3)} %)`);
    say('  samples that were no number', String(counts.flagged));
    say('  longest time between two samples of a channel', `${(worst * 1000).toFixed(0)} ms`);
    say('  processor, reading, judging one channel and storing all', `${((user + system) / 1e4 / took).toFixed(0)} % of one core`);
    say('  event loop late by, 99 %, 99.9 %, at most (timer of 1 ms)', [delay.percentile(99), delay.percentile(99.9), delay.max].map((ns) => `${(ns / 1e6).toFixed(1)} ms`).join(', '));
    say('  programs that wanted a processor, last minute (load)', (loadavg()[0] ?? 0).toFixed(1));
    daemon.stop();
    say('  store', `${(statSync(bench.store).size / (channels * rate * (took + 5))).toFixed(1)} B/sample, before blocks are merged`);
  } finally {
    daemon.stop();
    peer.kill();
    rmSync(folder, { recursive: true, force: true });
  }
}

if (process.argv[2] === 'serve') await serve();
else await measure(Number(process.argv[2] ?? 60));
