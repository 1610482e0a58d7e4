import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { Command } from 'commander';
import { inputError, nearest } from '../core/problems.js';
import { listScenarios, runScenario, type ScenarioRun } from '../../simulators/run-scenario.js';
import { csvOf } from '../../simulators/trace-csv.js';

const kinds = ['csv', 'folder', 'serial-line', 'tcp-line'] as const;
type Kind = (typeof kinds)[number];

interface Options {
  readonly as: string;
  readonly at?: string;
  readonly scenario?: string;
  readonly seed: string;
  readonly seeds: string;
  readonly speed: string;
  readonly truth?: boolean;
  readonly plan?: boolean;
  readonly list?: boolean;
}

/** `simulate`: an instrument on a simulated bench, or its recording. */
export function simulateCommand(): Command {
  return new Command('simulate')
    .description('play a simulated bench: as an instrument on a port, or as a recording')
    .option('--as <kind>', `what to be: ${kinds.join(', ')}`, 'csv')
    .option('--at <place>', 'serial port, host:port to listen on, or folder to write')
    .option('--scenario <name>', 'which scenario; without one, folder writes all of them')
    .option('--seed <number>', 'varies hose, pump and transducer within the scenario', '1')
    .option('--seeds <number>', 'for folder: seeds 1 to this number', '1')
    .option('--speed <factor>', 'for an instrument: times real time', '1')
    .option('--truth', 'print what is true about the run (JSON) instead of its samples')
    .option('--plan', 'print the plan of the scenario (YAML) instead of its samples')
    .option('--list', 'name the scenarios')
    .addHelpText('after', '\nExample:\n  dwellkeeper simulate --as csv --scenario pass-plain --seed 3 > run.csv\n  dwellkeeper simulate --scenario pass-plain --seed 3 --plan > plan.yaml\n  dwellkeeper judge run.csv --plan plan.yaml')
    .action(simulate);
}

async function simulate(options: Options): Promise<void> {
  if (options.list === true) {
    const width = Math.max(...listScenarios().map((s) => s.name.length));
    for (const s of listScenarios()) process.stdout.write(`${s.name.padEnd(width)}  ${s.summary}\n`);
    return;
  }
  const kind = kindOf(options.as);
  const seed = wholeNumber('--seed', options.seed, 0);
  if (kind === 'folder') return writeFolder(placeOf(options, 'a folder'), options.scenario, wholeNumber('--seeds', options.seeds, 1));
  const run = runScenario(scenarioOf(options), seed);
  if (options.truth === true) return print(`${JSON.stringify(run.truth, null, 2)}\n`);
  if (options.plan === true) return print(run.planText);
  if (kind === 'csv') return print(csvOf(run.samples, run.setup.transducer));
  throw inputError('simulate', '--as', `'${kind}' is not ready`);
}

function kindOf(text: string): Kind {
  const found = kinds.find((kind) => kind === text);
  if (found !== undefined) return found;
  const hint = nearest(text, kinds);
  throw inputError('simulate', '--as', `'${text}' should be one of ${kinds.join(', ')}${hint === undefined ? '' : `; did you mean '${hint}'?`}`);
}

function wholeNumber(option: string, text: string, least: number): number {
  const value = Number(text);
  if (Number.isSafeInteger(value) && value >= least && text.trim() !== '') return value;
  throw inputError('simulate', option, `'${text}' should be a whole number from ${least} on`);
}

function scenarioOf(options: Options): string {
  if (options.scenario !== undefined) return options.scenario;
  throw inputError('simulate', '--scenario', 'missing; simulate --list names the scenarios');
}

function placeOf(options: Options, what: string): string {
  if (options.at !== undefined) return options.at;
  throw inputError('simulate', '--at', `missing; it must be ${what}`);
}

/** Waits until the text has left, so that a pipe into `head` or a slow reader loses nothing. */
function print(text: string): Promise<void> {
  return new Promise((resolve, reject) => {
    process.stdout.write(text, (error) => (error ? reject(error) : resolve()));
  });
}

/** `NAME-SEED.csv`, `.plan.yaml`, `.truth.json` and, where the scenario has its own thresholds, `.thresholds.yaml`. */
async function writeFolder(folder: string, scenario: string | undefined, seeds: number): Promise<void> {
  const names = scenario === undefined ? listScenarios().map((s) => s.name) : [scenario];
  // An unknown name is told before anything is written.
  runScenario(names[0] ?? '', 1);
  await mkdir(folder, { recursive: true });
  for (const name of names) {
    for (let seed = 1; seed <= seeds; seed++) await writeRun(folder, runScenario(name, seed));
    if (process.stderr.isTTY) process.stderr.write(`${name}\n`);
  }
}

async function writeRun(folder: string, run: ScenarioRun): Promise<void> {
  const base = join(folder, `${run.scenario.name}-${run.seed}`);
  await writeFile(`${base}.csv`, csvOf(run.samples, run.setup.transducer));
  await writeFile(`${base}.plan.yaml`, run.planText);
  await writeFile(`${base}.truth.json`, `${JSON.stringify(run.truth)}\n`);
  if (run.thresholdsText !== null) await writeFile(`${base}.thresholds.yaml`, run.thresholdsText);
}
