/** Room and speed of the store, on the machine it is run on: `npm run bench -- store-bench`. `DAYS=3` for a shorter trace. */
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { decodeBlock, encodeBlock, type Samples } from '../../src/records/block-codec.js';
import { BlockTable } from '../../src/records/block-table.js';
import { openStore } from '../../src/records/store.js';
import { summariesOf } from '../../src/records/summary.js';
import { median, processorTime, say } from './measure.js';

const days = Number(process.env['DAYS'] ?? 30);
const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-bench-'));

/** Cycles of 20 minutes: vented, rise to 550 bar, settling, slow leak, vent. 0.01 bar steps, noise in bar. */
function simulated(first: number, count: number, rate: number, noise: number, jitter: number): Samples {
  const gauss = () => Math.sqrt(-2 * Math.log(1 - Math.random())) * Math.cos(2 * Math.PI * Math.random());
  const time = new Float64Array(count);
  const pressure = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    const t = (first + i) / rate;
    const c = t % 1200;
    const p = c < 120 ? 0.4 : c < 180 ? (c - 120) * 9.16 : c < 1080 ? 547 + 3 * Math.exp(-(c - 180) / 60) - (c - 180) * 0.002 : 0.4;
    time[i] = jitter > 0 ? Math.round((t + gauss() * jitter) * 1e6) / 1e6 : t;
    pressure[i] = Math.round((p + noise * gauss()) * 100) / 100;
  }
  return { time, pressure, flags: new Uint8Array(count), raw: null };
}

function codec(): void {
  for (const [noise, jitter] of [[0.002, 0], [0.02, 0], [0.1, 0], [0.02, 0.0001], [0.02, 0.001]] as const) {
    const name = `noise ${noise} bar, times ${jitter > 0 ? `+- ${jitter * 1000} ms` : 'on the grid'}`;
    for (const seconds of [1, 60, 600]) {
      let bytes = 0;
      const blocks = Math.ceil(3600 / seconds);
      for (let b = 0; b < blocks; b++) bytes += encodeBlock(simulated(b * seconds * 100, seconds * 100, 100, noise, jitter)).length;
      say(`block of ${seconds} s at 100 Hz, ${name}`, bytes / (blocks * seconds * 100), 'B/sample');
    }
  }
  const samples = simulated(15_000, 65_536, 100, 0.02, 0);
  const block = encodeBlock(samples);
  say('packing', 65.536 / median(() => encodeBlock(samples)), 'M samples/s CPU');
  say('unpacking', 65.536 / median(() => decodeBlock(block)), 'M samples/s CPU');
  const calibrated = { ...samples, raw: samples.pressure, pressure: samples.pressure.map((p) => p * 1.0004 - 0.12 + p * p * 1e-8) };
  say('raw reading and calibrated pressure, block of 655 s', encodeBlock(calibrated).length / 65_536, 'B/sample');
}

function writing(): void {
  const path = join(folder, 'writing.db');
  const { store } = openStore(path, { software: 'bench' });
  const channel = store.channel('bench', 'pressure', 'bar').id;
  const writer = store.beginSegment(channel, { time: 0, wall: Date.now() });
  const { time, pressure } = simulated(0, 360_000, 100, 0.02, 0);
  const [, took] = processorTime(() => {
    for (let i = 0; i < time.length; i++) {
      writer.append(time[i] ?? 0, pressure[i] ?? 0, 0);
      if (i % 100 === 0) store.tick(time[i] ?? 0);
    }
    store.flush();
  });
  say('recording 1 h at 100 Hz: commit each second (synced), merging', 360 / took, 'M samples/s CPU');
  store.compact();
  store.close();
  say('  file afterwards', statSync(path).size / 360_000, 'B/sample');
  say('  the same as a row each, time and pressure, in SQLite', rows(time, pressure) / 360_000, 'B/sample');
}

/** bytes of a file with one row for each sample, as small as SQLite makes it: the time (µs) is the key. */
function rows(time: Float64Array, pressure: Float64Array): number {
  const path = join(folder, 'rows.db');
  const db = new Database(path);
  db.exec('CREATE TABLE samples (time INTEGER PRIMARY KEY, pressure REAL NOT NULL) STRICT');
  const insert = db.prepare('INSERT INTO samples VALUES (?, ?)');
  db.transaction(() => time.forEach((t, i) => insert.run(BigInt(Math.round(t * 1e6)), pressure[i])))();
  db.close();
  return statSync(path).size;
}

function month(): void {
  const path = join(folder, 'month.db');
  const { store } = openStore(path, { software: 'bench' });
  const channel = store.channel('bench', 'pressure', 'bar').id;
  const segment = store.channels.beginSegment(channel, { time: 0, wall: Date.now() });
  const blocks = new BlockTable(store.db);
  const size = 65_536;
  const count = Math.floor((days * 86_400 * 100) / size);
  const content = { summaries: 0 };
  for (let b = 0; b < count; b += 64) {
    store.db.transaction(() => {
      for (let k = b; k < Math.min(count, b + 64); k++) {
        const samples = simulated(k * size, size, 100, 0.02, 0);
        const summaries = summariesOf(samples);
        blocks.insert({ channel, segment, position: k * size, tier: 2 }, samples, encodeBlock(samples), summaries);
        content.summaries += summaries.reduce((sum, summary) => sum + summary.content.length, 0);
      }
    })();
  }
  store.close();
  const { store: reader } = openStore(path, { software: 'bench', readOnly: true });
  say(`${days} days at 100 Hz: file`, statSync(path).size / 1e6, 'MB');
  say('  per sample', statSync(path).size / (count * size), 'B/sample');
  say('  of it summaries', content.summaries / (count * size), 'B/sample');
  const end = (count * size) / 100;
  for (const span of [10, 60, 600, 1800, 3600, 6 * 3600, 86_400, 7 * 86_400, end]) {
    const from = (end - span) * 0.63;
    say(`  ${span} s as 2,000 columns`, median(() => reader.envelope(channel, from, from + span, 2000)), 'ms CPU');
  }
  reader.close();
  say('  opening for writing, with the check of the file', processorTime(() => { openStore(path, { software: 'bench' }).store.close(); })[1], 'ms CPU');
}

try {
  codec();
  writing();
  month();
} finally {
  rmSync(folder, { recursive: true, force: true });
}
