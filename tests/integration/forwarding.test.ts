import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { parse, stringify } from 'yaml';
import { DatabaseServer } from '../../simulators/fleet/database-server.js';
import { run, scenarioNamed } from '../../simulators/run-scenario.js';
import { readMetrics } from '../watch/prometheus-text.js';
import { build, CommandLine, eventually } from './command-line.js';
import { SerialBench } from './serial-bench.js';

let bench: SerialBench;
let server: DatabaseServer;

const withInflux = (influx: Record<string, unknown>) => {
  const file = parse(readFileSync(bench.file, 'utf8')) as Record<string, unknown>;
  bench.write('bench.yaml', stringify({ ...file, influx }));
};

beforeAll(async () => {
  build();
  server = await DatabaseServer.begin('influxdb');
  bench = await SerialBench.make('north hall, 2', run(scenarioNamed('demo-pass'), 1));
}, 60_000);
afterAll(async () => {
  await bench.clear();
  await server.end();
});

const metric = async (name: string): Promise<number> => readMetrics(await (await fetch(`${bench.page}/metrics`)).text()).get(name)?.samples[0]?.value ?? NaN;
const behind = () => metric('dwellkeeper_forwarder_backlog_bytes');

describe('a bench whose store is copied into a database', () => {
  it('does not start without the password it names, and writes nothing', async () => {
    withInflux({ url: server.url.href, database: 'benches', username: 'bench2', passwordFile: 'not-there' });
    const program = new CommandLine(['start', bench.file], bench.folder);
    expect(await program.exit()).toBe(2);
    expect(program.stderr).toContain('influx.passwordFile');
    expect(program.stderr).toContain('not-there: there is no such file');
    expect(existsSync(join(bench.folder, 'records.sqlite'))).toBe(false);
  });

  it('loses nothing when the database is stopped, and when the program is killed', async () => {
    withInflux({ url: server.url.href, database: 'benches' });
    await bench.start();
    await eventually('points', async () => (await metric('dwellkeeper_forwarder_delivered_total')) > 50);
    await server.stop('SIGKILL');
    await eventually('a word that it is away', async () => (await metric('dwellkeeper_forwarder_reachable')) === 0 && (await behind()) > 0);
    await bench.program?.end('SIGKILL');
    await server.start();
    await bench.start();
    const recorded = () => bench.stored((store) => store.newestSamples(1, 1e6));
    await eventually('all of it', async () => (await metric('dwellkeeper_forwarder_reachable')) === 1 && recorded().time.length > 200);
    await bench.program?.end('SIGTERM');
    // What was recorded last goes out at the next start.
    await bench.start();
    const samples = recorded();
    await eventually('the rest', async () => Number((await server.rows('benches', 'SELECT count(pressure_bar) FROM samples'))[0]?.['count']) >= samples.time.length);
    const found = await server.samplesOf('benches', 'north hall, 2');
    expect(found.slice(0, samples.time.length).map(({ pressure }) => pressure)).toEqual([...samples.pressure]);
    expect(existsSync(join(bench.folder, 'records.sqlite.refused'))).toBe(false);
  });
});
