import { Connection } from '../../../src/sinks/influx/connection.js';
import { Forwarder } from '../../../src/sinks/influx/forwarder.js';
import { RefusedLines } from '../../../src/sinks/influx/refused-lines.js';
import { Spool } from '../../../src/sinks/influx/spool.js';

/** Forwards a store until it is killed: `node entry STORE URL DATABASE`. Prints `delivered N memory BYTES` now and then. */
const [path = '', url = '', database = ''] = process.argv.slice(2);
const connection = new Connection({ url: new URL(url), database, login: () => null, patience: 1000 });
const forwarder = new Forwarder({
  target: connection.target, spool: new Spool(path, connection.target), database: connection, refused: new RefusedLines(`${path}.refused`), health: null,
  backlog: 30 * 86_400, thinnedTo: 10, pointsPerSecond: 1_000_000, log: { info: () => undefined, warn: () => undefined }, pace: { look: 5, firstRetry: 20, longestRetry: 200, settle: 0 },
});
forwarder.start();
setInterval(() => process.stdout.write(`delivered ${forwarder.state().delivered} memory ${process.memoryUsage.rss()}\n`), 5);
