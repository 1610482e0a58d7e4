import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { DatabaseServer } from '../../simulators/fleet/database-server.js';
import { fleetTrace } from '../../simulators/fleet/fleet-trace.js';
import { BlockTable } from '../../src/records/block-table.js';
import { openStore } from '../../src/records/store.js';
import { Connection } from '../../src/sinks/influx/connection.js';
import { Forwarder } from '../../src/sinks/influx/forwarder.js';
import { RefusedLines } from '../../src/sinks/influx/refused-lines.js';
import { Spool } from '../../src/sinks/influx/spool.js';

/** How long a program that is catching up keeps everything else waiting: 100 Hz in merged blocks of 65,536 samples. */
const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-forwarder-bench-'));
const wall = Date.UTC(2026, 1, 3, 8);
const count = 65_536;
const { store } = openStore(join(folder, 'records.sqlite'), { software: 'bench', now: () => wall });
const channel = store.channel('bench 1', 'pressure', 'bar').id;
const segment = store.channels.beginSegment(channel, { time: 100, wall });
const blocks = new BlockTable(store.db);
const rate = 100;
store.db.transaction(() => {
  for (let i = 0; i < 16; i++) blocks.insert({ channel, segment, position: i * count, tier: 2 }, { ...fleetTrace(i, count / rate, rate, 100 + (i * count) / rate), flags: new Uint8Array(count), raw: null });
})();
for (const engine of ['influxdb', 'victoria-metrics'] as const) {
  for (const pointsPerSecond of [20_000, 1_000_000]) {
    const server = await DatabaseServer.begin(engine);
    const connection = new Connection({ url: server.url, database: `rig${pointsPerSecond}`, login: () => null });
    const forwarder = new Forwarder({
      target: `${connection.target} ${engine} ${pointsPerSecond}`, spool: new Spool(store.db.name, `${engine} ${pointsPerSecond}`), database: connection, refused: new RefusedLines(join(folder, 'refused')), health: null,
      backlog: 3650 * 86_400, thinnedTo: 10, pointsPerSecond, log: { info: () => undefined, warn: () => undefined },
    });
    forwarder.start();
    while (forwarder.state().delivered === 0) await new Promise((resolve) => setTimeout(resolve, 10));
    const delay = monitorEventLoopDelay({ resolution: 1 });
    delay.enable();
    const [began, before] = [performance.now(), forwarder.state().delivered];
    const cpu = process.cpuUsage();
    while (performance.now() - began < 10_000 && forwarder.state().waiting > 0) await new Promise((resolve) => setTimeout(resolve, 100));
    const seconds = (performance.now() - began) / 1000;
    const { user, system } = process.cpuUsage(cpu);
    delay.disable();
    const ms = (nanoseconds: number) => `${(nanoseconds / 1e6).toFixed(1)} ms`;
    console.log(
      `${engine}, at most ${pointsPerSecond} points/s: ${Math.round((forwarder.state().delivered - before) / seconds)} points/s, ${Math.round(((user + system) / 1e4 / seconds))} % of a core, ` +
        `event loop late by ${ms(delay.percentile(50))} (median), ${ms(delay.percentile(99))} (99 %), ${ms(delay.max)} (worst)`,
    );
    await forwarder.stop();
    await server.end();
  }
}
store.close();
rmSync(folder, { recursive: true, force: true });
