import { Command, Option } from 'commander';
import { inputError } from '../core/problems.js';
import { DamagedBlock } from '../records/block-codec.js';
import { chooseRuns, jobOf, type RunChoice } from '../records/choose-runs.js';
import { csvLine, piecesCsv } from '../records/export-csv.js';
import { recordJson } from '../records/export-record.js';
import { extentOf } from '../records/run-record.js';
import { openStore, type Store } from '../records/store.js';
import { dayChoice, numberRange } from './export-choice.js';
import { exportParquet } from './export-parquet.js';
import { checkFolder, writeFileWhole, writeOut } from './export-files.js';
import { software } from './program.js';
import { StepLine } from './step-line.js';

const formats = ['record', 'csv', 'table'] as const;

interface Flags {
  readonly run: readonly (readonly [number, number])[];
  readonly order?: string;
  readonly since?: string;
  readonly until?: string;
  readonly all?: true;
  readonly format: (typeof formats)[number];
  readonly flags?: true;
  readonly parquet?: true;
  readonly to?: string;
  readonly force?: true;
  readonly json?: true;
}

/** `export STORE`: records out. */
export function exportCommand(): Command {
  return new Command('export')
    .description('write records out of a store: sealed records with their traces, traces for a spreadsheet, a table of runs')
    .argument('<store>', 'the store, for example records.sqlite')
    .option('--run <numbers>', 'a run or a range, for example 12 or 12-20; may be given again', (text: string, sofar: Flags['run']) => [...sofar, numberRange(text)], [])
    .option('--order <order>', 'runs of an order')
    .option('--since <day>', 'runs from this day on, for example 2027-03-01 (the calendar of this computer)')
    .option('--until <day>', 'runs up to this day, the day included')
    .option('--all', 'every run that is over')
    .addOption(new Option('--format <format>', 'record: JSON, with everything that was sealed; csv: the trace; table: a line a run').choices(formats).default('record'))
    .option('--flags', 'csv: add the column of quality flags')
    .option('--parquet', 'write the table of runs and the trace of each as Parquet files: runs.parquet, RUN.parquet; needs --to')
    .option('--to <folder>', 'write RUN.json, RUN.csv or runs.csv there; without it a single one goes to stdout')
    .option('--force', 'write over files that are there')
    .option('--json', 'print the names of the files that were written as JSON')
    .addHelpText(
      'after',
      `
A record holds all that a seal covers: 'verify' checks it alone, years later, without the store. A csv trace begins with
the idle time that was read before the run, on the clock of its record; a reading that did not come is an empty field.
In tables, text that a spreadsheet would run as a formula gets an apostrophe in front. Files appear whole or not at all.

Exit code: 0, 1 when the trace of a run is damaged (that run is left out), 2 for input that must be corrected.

Examples:
  dwellkeeper export records.sqlite --order A-1042 --to exported
  dwellkeeper export records.sqlite --run 17 --format csv > run-17.csv
  dwellkeeper export records.sqlite --since 2027-03-01 --until 2027-03-31 --format table
  dwellkeeper export records.sqlite --all --parquet --to analysis`,
    )
    .action(exportRuns);
}

async function exportRuns(path: string, flags: Flags): Promise<void> {
  const choice = choiceOf(flags);
  const { store } = openStore(path, { software, readOnly: true });
  try {
    const numbers = [...chooseRuns(store, choice)];
    missingNumbers(store, flags.run, path);
    if (numbers.length === 0) throw inputError(path, '', 'holds no run that is over and that is asked for');
    if (flags.parquet === true) {
      await writeParquet(store, numbers, flags);
      return;
    }
    if (flags.to === undefined) {
      if (flags.format !== 'table' && numbers.length > 1) throw inputError('export', '', `${numbers.length} runs are asked for; say with --to in which folder their files go, or take --format table`);
      await writeOut(flags.format === 'table' ? tableText(store, numbers) : textOf(store, numbers[0] ?? 0, flags));
      return;
    }
    await writeFiles(store, numbers, flags.to, flags);
  } finally {
    store.close();
  }
}

async function writeParquet(store: Store, numbers: readonly number[], { to, force, json }: Flags): Promise<void> {
  if (to === undefined) throw inputError('export', '--parquet', 'writes several files; say with --to in which folder they go');
  const line = new StepLine(process.stderr.isTTY === true);
  const { written, leftOut } = await exportParquet(store, numbers, to, { force: force === true, software, progress: (count) => line.step(() => `${count} of ${numbers.length + 1} files written`) });
  line.end();
  for (const sentence of leftOut) console.error(sentence);
  if (leftOut.length > 0) process.exitCode = 1;
  if (json) console.log(JSON.stringify({ files: written }));
  else console.log(`${written.length} ${written.length === 1 ? 'file' : 'files'} written to ${to}`);
}

async function writeFiles(store: Store, numbers: readonly number[], folder: string, flags: Flags): Promise<void> {
  const force = flags.force === true;
  const files =
    flags.format === 'table'
      ? [{ name: 'runs.csv', text: () => tableText(store, numbers), run: 0 }]
      : numbers.map((run) => ({ name: `run-${run}.${flags.format === 'csv' ? 'csv' : 'json'}`, text: () => textOf(store, run, flags), run }));
  checkFolder(folder, files.map(({ name }) => name), force);
  const line = new StepLine(process.stderr.isTTY === true);
  const written: string[] = [];
  for (const file of files) {
    line.step(() => `${written.length} of ${files.length} files written`);
    try {
      written.push(await writeFileWhole(folder, file, force));
    } catch (error) {
      if (!(error instanceof DamagedBlock)) throw error;
      line.end();
      console.error(`run ${file.run} is left out: ${error.message}`);
      process.exitCode = 1;
    }
  }
  line.end();
  if (flags.json) console.log(JSON.stringify({ files: written }));
  else console.log(`${written.length} ${written.length === 1 ? 'file' : 'files'} written to ${folder}`);
}

function textOf(store: Store, number: number, { format, flags }: Flags): Iterable<string> {
  if (format === 'record') return recordJson(store, number);
  const run = store.getRun(number);
  if (!run?.received) throw inputError(`run ${number}`, '', 'is not over yet');
  const { from, to } = extentOf(run);
  return piecesCsv(store.traces.inTurn(run.channel, from, to, run.received), { flags: flags === true });
}

const tableHeader = ['run', 'bench', 'from', 'to', 'plan', 'verdict', 'state', 'order', 'customer', 'hose', 'fitting', 'assemblies', 'operator', 'seal'];

function* tableText(store: Store, numbers: readonly number[]): Generator<string> {
  yield csvLine(tableHeader);
  for (const number of numbers) {
    const run = store.getRun(number);
    if (run === null) continue;
    const job = jobOf(store, number);
    const wall = (ms: number | null) => (ms === null ? '' : new Date(ms).toISOString());
    yield csvLine([
      number, run.bench, wall(run.fromWall), wall(run.toWall), run.planName, run.verdict, run.state, job?.order ?? '', job?.customer ?? '',
      job?.hose ?? '', job?.fitting ?? '', (job?.assemblies ?? []).join(' '), job?.operator ?? '', store.ledger.of(number)[0]?.seal ?? '',
    ]);
  }
}

function choiceOf({ run, order, since, until, all }: Flags): RunChoice {
  const asked = run.length > 0 || order !== undefined || since !== undefined || until !== undefined;
  if (asked === (all === true)) throw inputError('export', '', asked ? '--all stands alone; leave out the other choices or it' : 'say which runs: --run, --order, --since, --until or --all');
  return { ...(run.length > 0 && { numbers: run }), ...(order !== undefined && { order }), ...dayChoice(since, until) };
}

/** A number that was asked for by itself must be there. */
function missingNumbers(store: Store, ranges: Flags['run'], path: string): void {
  for (const [from, to] of ranges) {
    const run = from === to ? store.getRun(from) : undefined;
    if (run === null) throw inputError(path, '--run', `there is no run ${from} in it`);
    if (run?.state === 'open') throw inputError(path, '--run', `run ${from} is not over yet`);
  }
}
