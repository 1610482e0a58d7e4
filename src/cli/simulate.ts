import { Command, Option } from 'commander';
import { registerTable } from '../../simulators/instruments/modbus-map.js';
import type { SerialSettings } from '../../simulators/instruments/serial-line.js';
import { wordOrders, type WordOrder } from '../../simulators/instruments/word-order.js';
import { writeRuns } from '../../simulators/run-files.js';
import { listAll, listScenarios, runScenario, scenarioNamed } from '../../simulators/run-scenario.js';
import { csvOf } from '../../simulators/trace-csv.js';
import { inputError } from '../core/problems.js';
import { pressureUnitOf, type PressureUnit } from '../core/units.js';
import { checkFolder } from './export-files.js';

const kinds = ['csv', 'folder', 'serial-line', 'tcp-line', 'modbus-tcp', 'modbus-rtu'] as const;

export interface SimulateFlags {
  readonly as: (typeof kinds)[number];
  readonly at?: string;
  readonly scenario?: string;
  readonly seed: number;
  readonly seeds: number;
  readonly speed: number;
  readonly repeat?: true;
  readonly query?: string;
  readonly unit: PressureUnit;
  readonly unitId: number;
  readonly wordOrder: WordOrder;
  readonly channels: number;
  readonly baud?: number;
  readonly parity?: SerialSettings['parity'];
  readonly truth?: true;
  readonly plan?: true;
  readonly thresholds?: true;
  readonly list?: true;
}

/** A whole number from `least` on, named by its option when it is not one. */
const whole = (option: string, least: number, most = Number.MAX_SAFE_INTEGER) => (text: string): number => {
  const value = Number(text);
  if (Number.isSafeInteger(value) && value >= least && value <= most && text.trim() !== '') return value;
  throw inputError('simulate', option, `'${text}' should be a whole number from ${least} ${most === Number.MAX_SAFE_INTEGER ? 'on' : `to ${most}`}, for example ${least + 1}`);
};

const factor = (text: string): number => {
  const value = Number(text);
  if (Number.isFinite(value) && value > 0) return value;
  throw inputError('simulate', '--speed', `'${text}' should be a number above 0, for example 10`);
};

const unit = (text: string): PressureUnit => {
  const found = pressureUnitOf(text);
  if (found !== undefined) return found;
  throw inputError('simulate', '--unit', `'${text}' should be a pressure unit such as bar, MPa or psi`);
};

/** `simulate`: an instrument on a simulated bench, or its recording. */
export function simulateCommand(): Command {
  return new Command('simulate')
    .description('play a simulated bench: as an instrument on a port, or as a recording')
    .addOption(new Option('--as <kind>', 'what to be').choices(kinds).default('csv'))
    .option('--at <place>', "serial device ('new' makes a pair with socat), HOST:PORT to listen on, or folder to write to")
    .option('--scenario <name>', 'which scenario; without one an instrument plays the demo again and again, and folder writes all')
    .addOption(new Option('--seed <number>', 'varies hose, pump and transducer within the scenario').argParser(whole('--seed', 0)).default(1))
    .addOption(new Option('--seeds <number>', 'folder: seeds 1 to this number').argParser(whole('--seeds', 1)).default(1))
    .addOption(new Option('--speed <factor>', 'instrument: times real time').argParser(factor).default(1))
    .option('--repeat', 'instrument: play the scenario again and again, with the next seed each time')
    .option('--query <text>', 'instrument: answer only when asked with this text')
    .addOption(new Option('--unit <unit>', 'instrument: unit that it shows').argParser(unit).default('bar'))
    .addOption(new Option('--unit-id <number>', 'Modbus: the id that it answers to').argParser(whole('--unit-id', 1, 247)).default(1))
    .addOption(new Option('--word-order <order>', 'Modbus: how the bytes of values of several registers lie').choices(wordOrders).default('ABCD'))
    .addOption(new Option('--channels <number>', 'Modbus: how many transducers it has').argParser(whole('--channels', 1, 100)).default(1))
    .addOption(new Option('--baud <rate>', 'serial: baud rate; 9600 for lines and 19200 for Modbus RTU where not given').argParser(whole('--baud', 50, 4_000_000)))
    .addOption(new Option('--parity <parity>', 'serial: parity; none for lines and even for Modbus RTU where not given').choices(['none', 'even', 'odd']))
    .option('--truth', 'print what is true about the run, as JSON, instead of its samples')
    .option('--plan', 'print the plan of the scenario, as YAML, instead of its samples')
    .option('--thresholds', 'print the thresholds of the scenario, as YAML, instead of its samples')
    .option('--list', 'name the scenarios, one line each')
    .addHelpText(
      'after',
      `
csv prints time_s,pressure_bar. folder writes NAME-SEED.csv, .plan.yaml and .truth.json, and .thresholds.yaml where a
scenario has its own. The truth comes from the noise-free pressure and from what was set: verdict, the rule that decides,
whether the recording can decide it at all (decidable; if not, every verdict in acceptable is honest), times, leak, events.

modbus-tcp and modbus-rtu have this register map:
${registerTable('bar')}  --unit psi or MPa changes the unit of the values and the step of the 16-bit one (psi 1, MPa 0.01).

Examples:
  dwellkeeper simulate --scenario leak-orifice --seed 3 > run.csv
  dwellkeeper simulate --scenario leak-orifice --seed 3 --plan > plan.yaml
  dwellkeeper simulate --as folder --at runs --seeds 10
  dwellkeeper simulate --as tcp-line --at 127.0.0.1:4001 --scenario pass-plain
  dwellkeeper simulate --as modbus-tcp --at 127.0.0.1:5020 --scenario pass-plain --word-order CDAB
  dwellkeeper simulate --as modbus-rtu --at new --scenario pass-plain --unit-id 7`,
    )
    .action(simulate);
}

async function simulate(flags: SimulateFlags): Promise<void> {
  if (flags.list === true) {
    const width = Math.max(...listAll().map((s) => s.name.length));
    return print(listAll().map((s) => `${s.name.padEnd(width)}  ${s.summary}\n`).join(''));
  }
  if (flags.as === 'folder') {
    if (flags.at === undefined) throw inputError('simulate', '--at', "missing; it must be a folder to write to, for example 'runs'");
    const names = flags.scenario === undefined ? listScenarios().map((s) => s.name) : [flags.scenario];
    return writeInto(flags.at, names, flags.seeds);
  }
  if (flags.as !== 'csv' && flags.truth !== true && flags.plan !== true && flags.thresholds !== true) {
    // Only an instrument needs the port library.
    const { playInstrument } = await import('./simulate-instrument.js');
    return playInstrument({ ...flags, as: flags.as });
  }
  if (flags.scenario === undefined) throw inputError('simulate', '--scenario', 'missing; simulate --list names the scenarios');
  const run = runScenario(flags.scenario, flags.seed);
  if (flags.truth === true) return print(`${JSON.stringify(run.truth, null, 2)}\n`);
  if (flags.plan === true) return print(run.planText);
  if (flags.thresholds === true) return print(run.thresholdsText ?? 'thresholds: standard\n');
  return print(csvOf(run.samples, run.setup.transducer));
}

/** @throws InputError for an unknown name, or where the folder cannot be written */
async function writeInto(folder: string, names: readonly string[], seeds: number): Promise<void> {
  for (const name of names) scenarioNamed(name);
  checkFolder(folder, [], true);
  try {
    await writeRuns(folder, names, seeds, (name) => void (process.stderr.isTTY && process.stderr.write(`${name}\n`)));
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === undefined || !/^E[A-Z]+$/.test(code)) throw error;
    throw inputError(folder, '', `cannot be written to (${code}); give a folder in which this user may write`, error);
  }
}

/** Waits until the text has left, so that a slow reader loses nothing; a reader that has seen enough is no error. */
function print(text: string): Promise<void> {
  return new Promise((resolve, reject) => {
    process.stdout.once('error', (error: NodeJS.ErrnoException) => (error.code === 'EPIPE' ? resolve() : reject(error)));
    process.stdout.write(text, () => resolve());
  });
}
