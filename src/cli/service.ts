import { realpathSync, statSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Command } from 'commander';
import { listPorts } from '../../drivers/ports.js';
import { inputError } from '../core/problems.js';
import { readBench } from '../daemon/bench-setup.js';
import { commandsOf, installService, userExists, type ServicePlan } from '../service/install-service.js';
import { stableName, type StableName } from '../service/udev-rule.js';
import { needsHomes, plainName, unitFile, unitName, type UnitSetup } from '../service/unit-file.js';

interface Flags {
  readonly user: string;
  readonly dryRun?: true;
  readonly system?: string;
  readonly json?: true;
}

// This file and its bundle lie at the same depth; the entry of the installed program is beside neither.
const program = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));

/** `service install BENCH.yaml`: a service that starts with the computer. */
export function serviceCommand(): Command {
  const command = new Command('service')
    .description('set a bench up as a service of systemd that starts with the computer')
    .addHelpText('after', '\nExample:\n  dwellkeeper service install /etc/dwellkeeper/bay-2.yaml --dry-run');
  command
    .command('install')
    .description('write the unit, a user for it, and a steady name for the serial port')
    .argument('<bench>', 'the bench file; it and the program must be where the user of the service can read them')
    .option('--user <name>', 'user that the service runs as; made when there is none', 'dwellkeeper')
    .option('--dry-run', 'print what would be written and run, and do nothing')
    .option('--system <folder>', 'write the files below this folder and run nothing: for packages and images')
    .option('--json', 'print the plan as JSON')
    .addHelpText(
      'after',
      `
The bench file is checked first. The service may write to the folder of its records only, sees no devices but serial
ports, is started again whatever ends it, and is killed and started anew when it stands still for a minute. It is enabled
but not started: look at it, then run systemctl start.

Examples:
  dwellkeeper service install /etc/dwellkeeper/bay-2.yaml --dry-run
  sudo dwellkeeper service install /etc/dwellkeeper/bay-2.yaml`,
    )
    .action(install);
  return command;
}

async function install(path: string, flags: Flags): Promise<void> {
  if (!/^[a-z_][a-z0-9_-]{0,30}$/.test(flags.user)) throw inputError('service install', '--user', `'${flags.user}' should be a user name of small letters, digits, - and _`);
  if (flags.user === 'root') throw inputError('service install', '--user', "'root' should be a user with fewer rights; leave it out for one of its own");
  const { bench } = readBench(path);
  const unit = unitName(bench.name);
  const name = unit.replace(/^dwellkeeper-|\.service$/g, '');
  const ports = await listPorts();
  const serial = bench.links.filter(({ input }) => input.driver === 'serial-line' || input.driver === 'modbus-rtu');
  const steady = serial.map((link) => stableName(link.input, serial.length === 1 ? name : `${name}-${plainName(link.name)}`, ports));
  const rules = steady.flatMap((one) => (one.kind === 'rule' ? one.text : []));
  const setup: UnitSetup = {
    bench: bench.name,
    node: realpathSync(process.execPath),
    program,
    benchFile: resolve(path),
    writes: [dirname(bench.store)],
    plans: bench.plans,
    user: flags.user,
    serial: serial.length > 0,
  };
  const plan: ServicePlan = {
    unit,
    user: flags.user,
    writes: setup.writes,
    files: [
      { path: `/etc/systemd/system/${unit}`, text: unitFile(setup) },
      ...(rules.length > 0 ? [{ path: `/etc/udev/rules.d/60-dwellkeeper-${name}.rules`, text: rules.join('') }] : []),
    ],
  };
  const advice = adviceOn(setup, steady);
  if (flags.dryRun !== true) installService(plan, flags.system === undefined ? null : resolve(flags.system));
  if (flags.json) console.log(JSON.stringify({ ...plan, ...commandsOf(plan, false), advice, done: flags.dryRun !== true }));
  else if (flags.dryRun === true) console.log(dryRun(plan, advice));
  else console.log([...plan.files.map((file) => `written: ${file.path}`), ...advice, ...(flags.system === undefined ? [`Start it with: systemctl start ${unit}`] : [])].join('\n'));
}

function dryRun(plan: ServicePlan, advice: readonly string[]): string {
  const { before, after } = commandsOf(plan, userExists(plan.user));
  const shown = (commands: readonly (readonly string[])[]) => commands.map((command) => `# would run: ${command.join(' ')}`);
  return [...shown(before), ...plan.files.flatMap(({ path, text }) => [`# would write: ${path}`, text.trimEnd(), '']), ...shown(after), ...advice.map((line) => `# ${line}`)].join('\n');
}

function adviceOn(setup: UnitSetup, steady: readonly StableName[]): string[] {
  return [
    ...(needsHomes(setup) ? [`Something of it lies in somebody's home (${setup.benchFile}): the service is let in there, and ${setup.user} must be able to read it; /etc/dwellkeeper and /opt are better places.`] : []),
    ...(setup.writes.includes(dirname(setup.benchFile)) ? ['The records lie beside the bench file, so the service could write over it; a folder of their own is better, for example store: /var/lib/dwellkeeper/records.sqlite'] : []),
    ...(statSync(setup.program, { throwIfNoEntry: false }) === undefined ? [`${setup.program} is not there yet: run npm run build first.`] : []),
    ...steady.flatMap((one) => (one.kind === 'rule' ? `Name the port ${one.device} in the bench file.` : one.kind === 'hint' ? one.text : [])),
  ];
}
