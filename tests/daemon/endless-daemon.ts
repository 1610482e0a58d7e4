import { join } from 'node:path';
import type { Logger } from 'pino';
import { openTcp } from '../../drivers/open-tcp.js';
import { LinkError, type Wiring } from '../../drivers/wiring.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { BenchDaemon } from '../../src/daemon/bench-daemon.js';
import { judgingBy } from './hand-bench.js';

/**
 * A daemon that reads a network instrument until it is killed: `node entry FOLDER PORT`. Prints `from T` (s, its first
 * time), then again and again `heard N at T, safe M, waiting since S`: readings received, time of the newest, readings
 * that are on the disk, time of the oldest that is not yet. Output to a pipe is synchronous, so what is printed was so.
 */
const [folder = '', port = ''] = process.argv.slice(2);
const bench = parseBench(
  {
    bench: 'north bench',
    store: join(folder, 'records.sqlite'),
    channels: [{ input: { driver: 'tcp-line', host: '127.0.0.1', port: Number(port), firstLine: 'keep' }, unit: 'bar', range: { lower: '0 bar', upper: '1000 bar' }, resolution: '0.01 bar' }],
  },
  join(folder, 'bench.yaml'),
);
// Serial ports and the logger take longer to load than all the rest, and are not needed here.
const wiring: Wiring = {
  open: (target) => {
    if (!('host' in target)) throw new LinkError('missing', 'only a network instrument is read here');
    return openTcp(target);
  },
  readText: (path) => Promise.reject(new LinkError('missing', `${path} is not there`)),
};
const log = new Proxy({} as Logger, { get: () => () => undefined });
const daemon = new BenchDaemon({ bench, judging: judgingBy(), wiring, log, software: 'dwellkeeper test' });
let heard = 0;
let newest = NaN;
daemon.listen({
  heard: (item) => {
    if (item.kind !== 'sample') return;
    heard++;
    newest = item.time;
  },
});
daemon.start();
process.stdout.write(`from ${daemon.feed.anchor().time}\n`);
setInterval(() => {
  const [writer] = daemon.records?.['recording']['writers'].values() ?? [];
  if (writer === undefined || heard === 0) return;
  const { time } = writer.waiting().samples;
  process.stdout.write(`heard ${heard} at ${newest}, safe ${heard - time.length}, waiting since ${time[0] ?? newest}\n`);
}, 10);
