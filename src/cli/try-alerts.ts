import { Command } from 'commander';
import { parseBench } from '../acquisition/bench-file.js';
import { inputError } from '../core/problems.js';
import { readYamlFile } from '../files/yaml-file.js';
import { waysOf } from '../sinks/alerts/alerts.js';
import { software } from './program.js';

/** Exit code where a way did not get through. */
const notDelivered = 1;

/** `try-alerts BENCH.yaml`: do alerts get through? */
export function tryAlertsCommand(): Command {
  return new Command('try-alerts')
    .description('send a trial message by every way that a bench file names')
    .argument('<bench>', 'the bench file, for example bench.yaml')
    .option('--json', 'print what came of it as JSON')
    .addHelpText(
      'after',
      `
The message says that it is a trial. Each way is tried once.

Exit code: 0 when every way took it, 1 when one did not, 2 for input that must be corrected.

Example:
  dwellkeeper try-alerts bench.yaml`,
    )
    .action(tryAlerts);
}

async function tryAlerts(path: string, flags: { readonly json?: true }): Promise<void> {
  const bench = readYamlFile(path).check(parseBench);
  if (bench.alerts === undefined) throw inputError(path, 'alerts', 'missing; the bench file says nobody who should be told');
  const ways = waysOf(bench.alerts, software, path);
  for (const way of ways) way.check();
  const alert = { bench: bench.name, subject: 'trial', state: 'told', weight: 'remark', text: 'this is a trial: alerts of this bench get through', wall: Date.now() } as const;
  const results = await Promise.all(
    ways.map(async (way) => {
      try {
        await way.deliver(alert);
        return { way: way.name, delivered: true, trouble: null };
      } catch (error) {
        return { way: way.name, delivered: false, trouble: error instanceof Error ? error.message : String(error) };
      }
    }),
  );
  if (flags.json) console.log(JSON.stringify(results));
  else for (const { way, trouble } of results) console.log(trouble === null ? `${way}: taken` : `${way}: not taken, ${trouble}`);
  if (results.some(({ delivered }) => !delivered)) process.exitCode = notDelivered;
}
