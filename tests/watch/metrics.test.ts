import { spawn, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { BenchState } from '../../src/watch/bench-state.js';
import { Metrics } from '../../src/watch/metrics.js';
import { eventually } from '../integration/command-line.js';
import { freePort } from '../integration/serial-bench.js';
import { readMetrics } from './prometheus-text.js';

/** A bench whose name is as awkward as names may be. */
const state: BenchState = {
  bench: 'Bay "2" \\ Süd',
  channels: [
    {
      channel: 'pressure', state: 'live', age: 0.125, silentAfter: 5,
      link: { samples: 1200, good: 1190, faults: { malformed: 7, 'over-range': 3 }, dropped: { 'first-line': 2 }, notices: { opened: 4, 'poll-skipped': 6 }, signalLost: 3, interval: 0.1, intervalDeviation: 0.002 },
    },
  ],
  recording: true,
  runs: { pass: 5, fail: 2, inconclusive: 1 },
  events: new Map([['spike', 9], ['top-up', 1]]),
  notices: [{ weight: 'alarm', text: 'a' }, { weight: 'remark', text: 'b' }, { weight: 'remark', text: 'c' }],
  viewers: 2,
  storeSize: 123_456,
  diskFree: 9e9,
  alerts: [{ way: 'webhook hooks.example', sent: 3, failedAttempts: 8, givenUp: 1, waiting: 2 }],
  alertsHeld: 4,
  forwarders: [{ target: 'influx 127.0.0.1:8086', backlog: 4096, oldest: 12.5, delivered: 1e6, rejected: 1, dropped: 0, thinned: 11, reachable: false }],
};

const metricsOf = (benches: () => readonly BenchState[] = () => [state]): Metrics =>
  new Metrics({ benches, delays: () => ({ median: 0.001, p99: 0.004, longest: 1.5 }), stalls: () => 3, version: '0.1.0' });

const wanted: readonly (readonly [string, Record<string, string>, number])[] = [
  ['dwellkeeper_samples_total', { channel: 'pressure' }, 1200],
  ['dwellkeeper_faults_total', { channel: 'pressure', fault: 'over-range' }, 3],
  ['dwellkeeper_newest_sample_age_seconds', { channel: 'pressure' }, 0.125],
  ['dwellkeeper_channel_silent', { channel: 'pressure' }, 0],
  ['dwellkeeper_link_openings_total', { channel: 'pressure' }, 4],
  ['dwellkeeper_signal_losses_total', { channel: 'pressure' }, 3],
  ['dwellkeeper_missed_polls_total', { channel: 'pressure' }, 6],
  ['dwellkeeper_link_state', { channel: 'pressure', state: 'live' }, 1],
  ['dwellkeeper_link_state', { channel: 'pressure', state: 'silent' }, 0],
  ['dwellkeeper_store_writing', {}, 1],
  ['dwellkeeper_store_size_bytes', {}, 123_456],
  ['dwellkeeper_disk_free_bytes', {}, 9e9],
  ['dwellkeeper_runs_total', { verdict: 'fail' }, 2],
  ['dwellkeeper_events_total', { kind: 'spike' }, 9],
  ['dwellkeeper_notices', { weight: 'remark' }, 2],
  ['dwellkeeper_alerts_sent_total', { way: 'webhook hooks.example' }, 3],
  ['dwellkeeper_alert_attempts_failed_total', { way: 'webhook hooks.example' }, 8],
  ['dwellkeeper_forwarder_backlog_bytes', { target: 'influx 127.0.0.1:8086' }, 4096],
  ['dwellkeeper_forwarder_thinned_total', { target: 'influx 127.0.0.1:8086' }, 11],
  ['dwellkeeper_forwarder_reachable', { target: 'influx 127.0.0.1:8086' }, 0],
];

describe('metrics', () => {
  it('are the text format of Prometheus to the letter', async () => {
    const families = readMetrics(await metricsOf().text());
    for (const [name, labels, value] of wanted) {
      const family = families.get(name) ?? expect.fail(`${name} is missing`);
      expect(family.type, name).toBe(name.endsWith('_total') ? 'counter' : 'gauge');
      expect(family.help.length, name).toBeGreaterThan(10);
      expect(family.samples, name).toContainEqual({ name, labels: { bench: state.bench, ...labels }, value });
    }
    expect(families.get('dwellkeeper_event_loop_stalls_total')?.samples).toEqual([{ name: 'dwellkeeper_event_loop_stalls_total', labels: {}, value: 3 }]);
    expect(families.get('dwellkeeper_event_loop_delay_seconds')?.samples.map(({ value }) => value)).toEqual([0.001, 0.004, 1.5]);
    expect(families.get('dwellkeeper_build_info')?.samples).toEqual([{ name: 'dwellkeeper_build_info', labels: { version: '0.1.0' }, value: 1 }]);
    expect(families.has('process_resident_memory_bytes')).toBe(true);
  });

  it('follow what they are made from, and leave out what is not known', async () => {
    let now: BenchState = state;
    const metrics = metricsOf(() => [now]);
    await metrics.text();
    const [channel] = state.channels;
    if (!channel) return expect.fail('no channel');
    now = { ...state, diskFree: null, runs: { ...state.runs, fail: 3 }, events: new Map(), channels: [{ ...channel, age: null, state: 'waiting' }] };
    const families = readMetrics(await metrics.text());
    expect(families.get('dwellkeeper_runs_total')?.samples.find(({ labels }) => labels['verdict'] === 'fail')?.value).toBe(3);
    expect(families.get('dwellkeeper_channel_silent')?.samples[0]?.value).toBe(1);
    for (const name of ['dwellkeeper_newest_sample_age_seconds', 'dwellkeeper_disk_free_bytes', 'dwellkeeper_events_total']) expect(families.get(name)?.samples, name).toEqual([]);
  });
});

// VictoriaMetrics reads the same format (its documentation: "How to import data in Prometheus exposition format").
describe('metrics in a real database', () => {
  let database: ChildProcess;
  let folder: string;
  let address: string;
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-metrics-'));
    const port = await freePort();
    address = `http://127.0.0.1:${port}`;
    database = spawn('/usr/bin/victoria-metrics', [`-storageDataPath=${folder}`, `-httpListenAddr=127.0.0.1:${port}`, '-retentionPeriod=1', '-search.latencyOffset=0s'], { stdio: 'ignore' });
    await eventually('the database', () => fetch(`${address}/health`).then(({ ok }) => ok, () => false));
  });
  afterAll(async () => {
    database.kill('SIGTERM');
    await once(database, 'exit');
    rmSync(folder, { recursive: true, force: true });
  });

  it('are read back as they were written', async () => {
    const response = await fetch(`${address}/api/v1/import/prometheus`, { method: 'POST', body: await metricsOf().text() });
    expect(response.status).toBe(204);
    await eventually('the samples', async () => {
      await fetch(`${address}/internal/force_flush`);
      const lines = (await (await fetch(`${address}/api/v1/export?match[]=${encodeURIComponent('{__name__=~"dwellkeeper_.*"}')}`)).text()).trim().split('\n').filter((line) => line !== '');
      const read = lines.map((line) => JSON.parse(line) as { metric: Record<string, string>; values: number[] });
      const found = wanted.filter(([name, labels, value]) =>
        read.some(({ metric, values }) => metric['__name__'] === name && metric['bench'] === state.bench && Object.entries(labels).every(([key, text]) => metric[key] === text) && values[0] === value),
      );
      return found.length === wanted.length;
    });
  });
});

describe('the reader of these tests', () => {
  it.each([
    ['a 1', /no line end/],
    ['a{b="c} 1\n', /not labels/],
    ['a{b="c",b="d"} 1\n', /not labels/],
    ['a one\n', /not a sample/],
    ['a 1\nb 2\na 3\n', /twice|two places/],
    ['a 1\n# TYPE a counter\n', /after samples/],
    ['# TYPE a thing\na 1\n', /not a type/],
    ['# TYPE a counter\na -1\n', /below 0/],
    ['a-b 1\n', /not a sample/],
  ])('refuses %j', (text, sentence) => expect(() => readMetrics(text)).toThrow(sentence));
});
