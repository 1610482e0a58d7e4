import { dirname, join } from 'node:path';
import { Command } from 'commander';
import { realWiring } from '../../drivers/real-wiring.js';
import { readBench } from '../daemon/bench-setup.js';
import { lastResort } from '../daemon/last-resort.js';
import { logger, logLevels } from '../daemon/logger.js';
import { RunningBench } from '../daemon/running-bench.js';
import { LastGood } from '../files/last-good.js';
import { ServiceNotify } from '../watch/service-notify.js';
import { openAt } from './open-at.js';
import { pagesFolder, software } from './program.js';
import { endSignal } from './wait-for-end.js';

interface Flags {
  readonly wait?: true;
  readonly log: string;
  readonly lastGood?: string;
}

/** `start BENCH.yaml`: the daemon, until it is told to end. */
export function startCommand(): Command {
  return new Command('start')
    .description('watch a bench: record every pressurisation, judge it, show it on a page')
    .argument('<bench>', 'the bench file, for example bench.yaml')
    .option('--wait', 'begin even though the instrument is not there yet, and wait for it (for unattended starts)')
    .option('--last-good <folder>', 'with --wait: where copies of good settings are kept (without it .last-good beside the bench file)')
    .option('--log <level>', `how much is logged on stderr: ${logLevels.join(', ')}`, 'info')
    .addHelpText(
      'after',
      `
Everything is checked before anything is opened or written; exit code 2 when something must be corrected first.
With --wait, a bench, plan or thresholds file that a power cut left empty is replaced by a copy of it as it last was good,
and the page says so; without a copy, runs are recorded and not judged.
Ends cleanly on SIGTERM and SIGINT. A plan or thresholds file that is edited meanwhile holds from the next run on.

It watches and judges; it never drives the pump and is no safety device. Lid latched and mat in place before there is
pressure; never approach or tighten a pressurised assembly.

Example:
  dwellkeeper start bench.yaml`,
    )
    .action(start);
}

async function start(path: string, flags: Flags): Promise<void> {
  const log = logger(flags.log);
  const lastGood = new LastGood(flags.lastGood ?? join(dirname(path), '.last-good'));
  const files = readBench(path, flags.wait === true ? lastGood : undefined);
  const bench = await RunningBench.start({
    files, source: path, wiring: realWiring, log, software, pages: pagesFolder, wait: flags.wait === true,
    ...(flags.wait === true && { lastGood }),
  });
  const release = lastResort((error) => bench.daemon.trouble(error));
  console.log(`${files.bench.name}: recording to ${files.bench.store}\nThe page: ${openAt(bench.address, files.bench.page.names).join(' or ')}`);
  const service = new ServiceNotify({ status: () => bench.self.status(), trouble: (error) => log.warn({ err: error }, 'the service manager could not be told') });
  await service.ready();
  const signal = await endSignal();
  log.info({ signal }, 'ending');
  await service.stopping();
  await bench.stop();
  release();
}
