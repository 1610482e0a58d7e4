import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { z } from 'zod';
import { Flag } from '../../../src/core/trace.js';
import { standardThresholds } from '../../../src/core/thresholds.js';
import type { Engine } from '../../../src/sinks/influx/settings.js';
import { HealthLog } from '../../../src/sinks/influx/health-log.js';
import { outcomeOf } from '../../records/example-store.js';
import { until } from '../../server/until.js';
import { DatabaseServer } from '../../../simulators/fleet/database-server.js';
import { forwarding, ForwardedStore, isUpToDate, morning } from './forwarded-store.js';

const target = z.object({ query: z.string().optional(), expr: z.string().optional(), instant: z.boolean().optional() });
const dashboard = z.object({
  title: z.string().min(1),
  uid: z.string().min(1),
  schemaVersion: z.int(),
  panels: z.array(z.object({ id: z.int(), title: z.string().min(1), type: z.string(), description: z.string().optional(), targets: z.array(target).default([]), gridPos: z.object({ x: z.int(), y: z.int(), w: z.int(), h: z.int() }) })),
  templating: z.object({ list: z.array(z.object({ name: z.string(), type: z.string(), query: z.union([z.string(), z.object({ query: z.string() })]) })) }),
  annotations: z.object({ list: z.array(z.object({ name: z.string(), query: z.string().optional(), expr: z.string().optional() })) }),
});
const dashboardOf = (engine: Engine) => dashboard.parse(JSON.parse(readFileSync(fileURLToPath(new URL(`../../../dashboards/fleet/${engine}.json`, import.meta.url)), 'utf8')));

const [from, to] = [morning, morning + 4 * 3_600_000];
const benches = ['north hall, 2', 'east (old)'];

/** Records of two benches with something for every panel. */
function recorded(bench: string): ForwardedStore {
  const source = new ForwardedStore(bench);
  const { store, channel } = source;
  const thresholds = store.keepVersion('thresholds', standardThresholds);
  const plan = store.keepVersion('plan', { plan: 'two-wire DN12 proof', testPressure: 550 });
  for (const [i, verdict] of (['pass', 'fail', 'inconclusive', 'pass'] as const).entries()) {
    const at = 200 + i * 1000;
    source.samples(at, 600, 10);
    source.sample(at + 60, NaN, Flag.overRange);
    store.flush();
    const run = store.openRun({ channel, from: at, plan, thresholds, instrument: null });
    store.addEvents(channel, [{ kind: 'spike', at: at + 3, height: 7, width: 0.04 }], run);
    const cycle = { rising: at, reached: at + 5, settled: at + 9, holdEnd: at + 50, vented: at + 52, peak: 556, holdStartPressure: 551, holdMinimum: 548, drop: 3, dropPercent: 0.5, strokes: 41, topUps: 0, verdict };
    store.finishRun(run, { to: at + 60, outcome: { ...outcomeOf(verdict), cycles: [{ ...cycle, leak: { rate: 0.4 + i / 10, standardError: 0.04, settling: 1.9, timeConstant: 8.4 } }] } });
    store.db.prepare("INSERT INTO marks (channel, time, kind, text) VALUES (?, ?, 'signal-lost', 'the cable')").run(channel, at + 61);
  }
  return source;
}

/** What Grafana puts in place of its variables: all benches, or one chosen from the list, escaped for a regular expression. */
function filled(text: string, engine: Engine, bench: string | null): string {
  const escaped = bench?.replaceAll(/[\\^$.*+?()[\]{}|/]/g, engine === 'influxdb' ? '\\$&' : '\\\\$&');
  return text
    .replaceAll('$timeFilter', `time >= ${from}ms and time <= ${to}ms`)
    .replaceAll('$__interval', '60s')
    .replaceAll('$__range', `${(to - from) / 1000}s`)
    .replaceAll('$database', 'fleet')
    .replaceAll('$bench', escaped ?? '.*')
    .replaceAll('$plan', '.*');
}

interface Row {
  readonly [column: string]: unknown;
}

async function askPrometheus(server: DatabaseServer, query: string, instant: boolean): Promise<Row[]> {
  const parameters = new URLSearchParams({ query, nocache: '1', ...(instant ? { time: String(to / 1000) } : { start: String(from / 1000), end: String(to / 1000), step: '60s' }) });
  const response = await fetch(new URL(`/api/v1/${instant ? 'query' : 'query_range'}?${parameters.toString()}`, server.url));
  const answer = (await response.json()) as { error?: string; data?: { result: { metric: Record<string, string>; value?: [number, string]; values?: [number, string][] }[] } };
  if (answer.error !== undefined) throw new Error(`${query}: ${answer.error}`);
  return (answer.data?.result ?? []).flatMap(({ metric, value, values = value ? [value] : [] }) => values.map(([time, number]) => ({ ...metric, time, value: Number(number) })));
}

/** `label_values(selector, label)`, as Grafana asks it. */
async function labelValues(server: DatabaseServer, query: string): Promise<Row[]> {
  const [, selector = '', label = ''] = /^label_values\((.+), (\w+)\)$/.exec(query) ?? [];
  const parameters = new URLSearchParams({ 'match[]': selector, start: String(from / 1000), end: String(to / 1000) });
  const response = await fetch(new URL(`/api/v1/label/${label}/values?${parameters.toString()}`, server.url));
  const answer = (await response.json()) as { data: string[] };
  return answer.data.map((value) => ({ value }));
}

describe.each(['influxdb', 'victoria-metrics'] as const)('the fleet dashboard for %s', (engine) => {
  const board = dashboardOf(engine);
  let server: DatabaseServer;
  const pressures: number[] = [];

  beforeAll(async () => {
    server = await DatabaseServer.begin(engine);
  });
  afterAll(() => server.end());

  const ask = (text: string, bench: string | null, instant = false): Promise<Row[]> => {
    const query = filled(text, engine, bench);
    return engine === 'influxdb' ? server.rows('fleet', query) : query.startsWith('label_values') ? labelValues(server, query) : askPrometheus(server, query, instant);
  };
  const panel = (title: string) => board.panels.find((one) => one.title === title)?.targets.map(({ query, expr, instant = false }) => ({ text: query ?? expr ?? '', instant })) ?? [];

  it('every query of it finds what two benches have recorded', async () => {
    for (const bench of benches) {
      const source = recorded(bench);
      pressures.push(...source.expected().map(({ pressure }) => pressure));
      const health = new HealthLog(bench);
      for (let minute = 0; minute < 60; minute++) {
        const fields = { samples: 600n, bad_samples: BigInt(minute % 2), alarms: bench === benches[0] ? 1n : 0n, warnings: 0n, run_open: false, waiting: 0n, behind_s: 0.5, refused: 0n, memory_bytes: 1n };
        health.add({ wall: to - (60 - minute) * 60_000, fields });
      }
      const forwarder = forwarding(source.path, { url: server.url, name: 'fleet', health });
      await until('all is forwarded', () => isUpToDate(forwarder) && health.waiting().length === 0);
      expect(forwarder.state().rejected).toBe(0);
      await forwarder.stop();
    }
    if (engine === 'victoria-metrics') await server.exported('{db="fleet",bench="none"}'); // makes it show what it has
    const queries = [
      ...board.panels.flatMap(({ title, targets }) => targets.map(({ query, expr, instant }) => ({ title, text: query ?? expr ?? '', instant: instant ?? false }))),
      ...board.annotations.list.map(({ name, query, expr }) => ({ title: name, text: query ?? expr ?? '', instant: false })),
      ...board.templating.list.filter(({ type }) => type === 'query').map(({ name, query }) => ({ title: `variable ${name}`, text: typeof query === 'string' ? query : query.query, instant: false })),
    ];
    expect(queries.length).toBeGreaterThanOrEqual(19);
    for (const { title, text, instant } of queries) {
      expect(text, title).not.toBe('');
      expect((await ask(text, null, instant)).length, `${title}: ${text}`).toBeGreaterThan(0);
      // One bench, with a name that a regular expression would read otherwise.
      for (const bench of benches) {
        const rows = await ask(text, bench, instant);
        if (!title.startsWith('variable') && !title.startsWith('Benches with')) expect(rows.length, `${title}, ${bench}: ${text}`).toBeGreaterThan(0);
        if (!title.startsWith('variable')) for (const row of rows) if (row['bench'] !== undefined) expect(row['bench']).toBe(bench);
      }
    }
  });

  it('shows the right figures', async () => {
    const values = async (title: string, bench: string | null = null) => {
      const rows = await Promise.all(panel(title).map(({ text, instant }) => ask(text, bench, instant)));
      return rows.map((found) => found.filter((row) => Object.values(row).every((value) => value !== null)));
    };
    const heard = (await values('Benches heard from'))[0]?.[0];
    expect(heard?.['count'] ?? heard?.['value']).toBe(2);
    const alarmed = (await values('Benches with an alarm'))[0]?.[0];
    expect(alarmed?.['count'] ?? alarmed?.['value']).toBe(1);
    const verdicts = await values('Verdicts by bench and plan', benches[1]);
    if (engine === 'influxdb') expect(verdicts[0]).toMatchObject([{ bench: benches[1], plan: 'two-wire DN12 proof', pass: 2, fail: 1, inconclusive: 1 }]);
    else expect(verdicts.map((rows) => rows[0]?.['value'])).toEqual([2, 1, 1]);
    const [highest = [], lowest = []] = await values('Pressure, highest and lowest of each interval', benches[0]);
    const number = (row: Row) => Number(row['max'] ?? row['min'] ?? row['value']);
    expect(Math.max(...highest.map(number))).toBe(Math.max(...pressures));
    expect(Math.min(...lowest.map(number))).toBe(Math.min(...pressures));
    const bad = (await values('Bad readings'))[0] ?? [];
    expect(bad.reduce((sum, row) => sum + Number(row['count'] ?? row['value']), 0)).toBe(8);
  });

  it('has no panel over another', () => {
    const taken = new Set<string>();
    for (const { title, gridPos } of board.panels) {
      for (let x = gridPos.x; x < gridPos.x + gridPos.w; x++) {
        for (let y = gridPos.y; y < gridPos.y + gridPos.h; y++) {
          expect(taken.has(`${x} ${y}`), title).toBe(false);
          taken.add(`${x} ${y}`);
        }
      }
      expect(gridPos.x + gridPos.w).toBeLessThanOrEqual(24);
    }
    expect(new Set(board.panels.map(({ id }) => id)).size).toBe(board.panels.length);
  });
});
