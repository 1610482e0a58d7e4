import { parseArgs } from 'node:util';
import { DatabaseServer } from './database-server.js';
import { Fleet } from './feed-fleet.js';

/** `npm run fleet [-- --benches 50 --seconds 300 --rate 100]`: many benches into one real InfluxDB, then one VictoriaMetrics. */
const { values } = parseArgs({ options: { benches: { type: 'string', default: '50' }, seconds: { type: 'string', default: '300' }, rate: { type: 'string', default: '100' } } });
const size = { benches: Number(values.benches), seconds: Number(values.seconds), rate: Number(values.rate) };
if (!Object.values(size).every((number) => Number.isInteger(number) && number > 0)) {
  console.error('--benches, --seconds and --rate should be whole numbers above 0, for example --benches 50 --seconds 300 --rate 100');
  process.exit(2);
}
const fleet = new Fleet(size, (text) => process.stderr.isTTY && process.stderr.write(`\r${text}   `));
try {
  for (const engine of ['influxdb', 'victoria-metrics'] as const) {
    const server = await DatabaseServer.begin(engine);
    try {
      const { points, pointsPerSecond, differences } = await fleet.feed(server);
      const { data, beside } = await server.size();
      console.log(`\n${engine}: ${size.benches} benches, ${points} points, ${Math.round(pointsPerSecond)} points/s, ${(data / points).toFixed(2)} bytes a point, ${(beside / 2 ** 20).toFixed(1)} MiB besides`);
      for (const difference of differences) console.log(`  ${difference}`);
      if (differences.length === 0) console.log('  every point of every store is there, in order');
      else process.exitCode = 1;
    } finally {
      await server.end();
    }
  }
} finally {
  fleet.end();
}
