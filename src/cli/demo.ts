import { resolve } from 'node:path';
import { setTimeout as delay } from 'node:timers/promises';
import { Command } from 'commander';
import { realWiring } from '../../drivers/real-wiring.js';
import { play } from '../../simulators/play.js';
import { readingsOf } from '../../simulators/player.js';
import { parseBench } from '../acquisition/bench-file.js';
import { inputError } from '../core/problems.js';
import { lastResort } from '../daemon/last-resort.js';
import { logger, logLevels } from '../daemon/logger.js';
import { RunningBench } from '../daemon/running-bench.js';
import { readPlan, readThresholds, type BenchFiles } from '../daemon/bench-setup.js';
import { refuseForeignFile } from '../records/foreign-file.js';
import type { BenchFeed } from '../server/bench-feed.js';
import { demoFiles, type DemoFiles } from './demo-files.js';
import { demoInstrument, type DemoInstrument } from './demo-instrument.js';
import { demoRuns } from './demo-runs.js';
import { pagesFolder, software } from './program.js';
import { endSignal } from './wait-for-end.js';

interface Flags {
  readonly once?: true;
  readonly port?: string;
  readonly store: string;
  readonly log: string;
}

/** s after the last reading of `--once` within which the last run must be over. */
const patience = 15;

/** `demo`: a simulated bench behind a real serial device, the daemon and its page; no hardware. */
export function demoCommand(): Command {
  return new Command('demo')
    .description('show it all without hardware: a simulated bench on a real serial device, the daemon, the page')
    .option('--once', 'play every kind of run once, then end')
    .option('--port <port>', 'port of the page; without it 8460, or a free one where that is taken')
    .option('--store <file>', 'where the records go', 'data/demo.sqlite')
    .option('--log <level>', `how much is logged on stderr: ${logLevels.join(', ')}`, 'silent')
    .addHelpText(
      'after',
      `
The bench, its pump, its hoses and its numbers are simulated; the bytes travel through a serial device (made with socat;
where that is missing, over TCP), the driver, the judging and the records are the real ones. The plan and the thresholds
are made for runs of about a minute and are no example for a real test; they lie beside the records, with a few plans to
look at.

Examples:
  dwellkeeper demo
  dwellkeeper demo --once --store /tmp/demo.sqlite`,
    )
    .action(demo);
}

async function demo(flags: Flags): Promise<void> {
  const log = logger(flags.log);
  const port = portOf(flags.port);
  refuseForeignFile(flags.store);
  const instrument = await demoInstrument();
  try {
    const made = demoFiles(flags.store);
    const bench = await RunningBench.start({
      files: filesOf(instrument, made, flags.store, port), source: 'demo', wiring: realWiring, log, software, pages: pagesFolder, wait: false, anyPort: flags.port === undefined,
    }).catch((error: unknown) => {
      made.undo();
      throw error;
    });
    const release = lastResort((error) => bench.daemon.trouble(error));
    try {
      if (instrument.instead !== null) console.log(`${instrument.instead}; the simulated instrument speaks over TCP instead.`);
      console.log(greeting(bench.address, instrument.link, flags.store));
      await untilEnd(bench.daemon.feed, instrument, flags.once === true);
    } finally {
      await bench.stop();
      release();
    }
  } finally {
    await instrument.close();
  }
}

const greeting = (address: string, link: string, store: string): string => `
  Dwellkeeper demo: open  ${address}

  A simulated hose bench is pressurised again and again, a run about every minute, with a different end each time.
  Its instrument sends bytes over ${link}; records go to ${store}.
  Ctrl-C ends it.
`;

/** Plays the runs and tells them on the terminal, until a signal comes or everything was played once. */
async function untilEnd(feed: BenchFeed, { instrument }: DemoInstrument, once: boolean): Promise<void> {
  const stop = new AbortController();
  const told = feed.subscribe({
    onRunEnded: (run) => console.log(`  run ${run.id}: ${run.verdict}${run.reasons[0] === undefined ? '' : ` - ${run.reasons[0]}`}`),
    onSamples: () => undefined,
    onView: () => undefined,
    onEvent: () => undefined,
    onChanged: () => undefined,
  });
  const playing = async (): Promise<void> => {
    for await (const { summary, samples } of demoRuns(once ? 1 : Infinity)) {
      if (stop.signal.aborted) return;
      console.log(`  now: ${summary}`);
      await play(readingsOf(samples), (reading) => instrument.show(reading), { signal: stop.signal });
    }
    await untilOver(feed, stop.signal);
  };
  const played = playing();
  await Promise.race([endSignal(), played]);
  stop.abort();
  await played;
  told();
}

/** The last run is judged a little after its last reading. */
async function untilOver(feed: BenchFeed, signal: AbortSignal): Promise<void> {
  const deadline = performance.now() + patience * 1000;
  while (feed.runSince() !== null && performance.now() < deadline && !signal.aborted) await delay(50);
}

function filesOf({ input }: DemoInstrument, { plan, plans, thresholds }: DemoFiles, store: string, port: number | undefined): BenchFiles {
  const bench = parseBench(
    {
      bench: 'demo bench',
      store: resolve(store),
      plan,
      plans,
      thresholds,
      ...(port !== undefined && { page: { port } }),
      channels: [
        { input, unit: 'bar', range: { lower: '0 bar', upper: '1000 bar' }, resolution: '0.01 bar', accuracyClass: 0.25, usualInterval: '10 ms' },
      ],
    },
    'demo',
  );
  return {
    bench,
    files: [],
    notices: [],
    plan: readPlan(plan),
    thresholds: readThresholds(thresholds),
  };
}

function portOf(text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const port = Number(text);
  if (Number.isInteger(port) && port >= 1 && port <= 65_535 && text.trim() !== '') return port;
  throw inputError('demo', '--port', `'${text}' should be a port number from 1 to 65535`);
}
