import { readFileSync, writeFileSync } from 'node:fs';
import { createServer, type IncomingHttpHeaders } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { parse, stringify } from 'yaml';
import { run, scenarioNamed } from '../../simulators/run-scenario.js';
import { readMetrics, type MetricSample } from '../watch/prometheus-text.js';
import { build, eventually } from './command-line.js';
import { SerialBench } from './serial-bench.js';

interface Told {
  readonly headers: IncomingHttpHeaders;
  readonly body: Record<string, string>;
}

const secret = 'correct-horse-battery';
let bench: SerialBench;
const told: Told[] = [];
const hooks = createServer((request, response) => {
  let text = '';
  request.setEncoding('utf8').on('data', (part: string) => (text += part));
  request.on('end', () => {
    told.push({ headers: request.headers, body: JSON.parse(text) as Record<string, string> });
    response.writeHead(204).end();
  });
});

beforeAll(async () => {
  build();
  await new Promise<void>((resolve) => hooks.listen(0, '127.0.0.1', resolve));
  const { port } = hooks.address() as AddressInfo;
  bench = await SerialBench.make('north bench', run(scenarioNamed('demo-pass'), 1));
  writeFileSync(join(bench.folder, 'token'), secret, { mode: 0o600 });
  const file = parse(readFileSync(bench.file, 'utf8')) as Record<string, unknown>;
  bench.write('bench.yaml', stringify({ ...file, alerts: { after: '1 s', webhooks: [{ url: `http://127.0.0.1:${port}/hook`, tokenFile: 'token' }] } }));
  await bench.start();
}, 60_000);
afterAll(async () => {
  await bench.clear();
  await new Promise((resolve) => hooks.close(resolve));
});

const health = async () => {
  const response = await fetch(`${bench.page}/healthz`);
  return { status: response.status, ...((await response.json()) as { healthy: boolean; reasons: string[] }) };
};
const metric = async (name: string, labels: Record<string, string> = {}): Promise<MetricSample | undefined> =>
  readMetrics(await (await fetch(`${bench.page}/metrics`)).text()).get(name)?.samples.find((sample) => Object.entries(labels).every(([key, text]) => sample.labels[key] === text));

describe('a bench that is left alone', () => {
  it('is healthy while readings come, is not when the cable is pulled, tells it far away, and all is well again after', async () => {
    await eventually('health', async () => (await health()).status === 200);
    const before = await eventually('samples', async () => {
      const counted = await metric('dwellkeeper_samples_total');
      return counted !== undefined && counted.value > 50 && counted;
    });
    expect(before.labels).toEqual({ bench: 'north bench', channel: 'pressure' });
    expect((await metric('dwellkeeper_link_state', { state: 'live' }))?.value).toBe(1);
    expect((await metric('dwellkeeper_store_writing'))?.value).toBe(1);
    expect((await metric('dwellkeeper_disk_free_bytes'))?.value).toBeGreaterThan(0);

    await bench.unplug();
    const ill = await eventually('illness', async () => {
      const state = await health();
      return state.status === 503 && state;
    });
    expect(ill.healthy).toBe(false);
    expect(ill.reasons).toEqual([expect.stringMatching(/^north bench, pressure: no reading for \d+\.\d s \(link \w+\)$/)]);
    expect((await metric('dwellkeeper_channel_silent'))?.value).toBe(1);
    await eventually('the alert', () => told.some(({ body }) => body['subject'] === 'link' && body['state'] === 'begun'));

    await bench.plugIn();
    await eventually('health again', async () => (await health()).status === 200);
    await eventually('the end of the alert', () => told.some(({ body }) => body['subject'] === 'link' && body['state'] === 'over'));
    expect(told[0]?.headers.authorization).toBe(`Bearer ${secret}`);
    expect(told[0]?.body).toMatchObject({ bench: 'north bench', weight: 'alarm' });
    expect((await metric('dwellkeeper_signal_losses_total'))?.value).toBe(1);
    expect((await metric('dwellkeeper_link_openings_total'))?.value).toBe(2);
    expect((await metric('dwellkeeper_alerts_sent_total'))?.value).toBe(told.length);
    expect((await metric('dwellkeeper_samples_total'))?.value).toBeGreaterThan(before.value);
  });

  it('logs one JSON object a line, without secrets', () => {
    const lines = (bench.program?.stderr ?? '').trim().split('\n');
    expect(lines.length).toBeGreaterThan(3);
    for (const line of lines) expect(JSON.parse(line)).toMatchObject({ level: expect.any(Number) as number, time: expect.any(String) as string, msg: expect.any(String) as string });
    expect(bench.program?.stderr).not.toContain(secret);
  });
});
