import { existsSync, readdirSync } from 'node:fs';
import { once } from 'node:events';
import { cpus } from 'node:os';
import { join } from 'node:path';
import { Command, InvalidArgumentError, Option } from 'commander';
import type { Verdict } from '../core/outcome.js';
import { inputError } from '../core/problems.js';
import { badInput, exitCodeOf } from './exit-codes.js';
import { importOptionsOf, withImportFlags, type ImportFlags } from './import-flags.js';
import { readPlanFile, readThresholdsFile } from './judge-file.js';
import { judgeAll } from './judge-pool.js';
import type { JudgeJob } from './judge-worker.js';
import { ProgressLine } from './progress-line.js';

interface Flags extends ImportFlags {
  readonly plan?: string;
  readonly thresholds?: string;
  readonly jobs: number;
  readonly progress?: true;
}

const atLeastOne = (text: string): number => {
  const value = Number(text);
  if (!Number.isInteger(value) || value < 1 || value > 256) throw new InvalidArgumentError('It should be a whole number from 1 to 256.');
  return value;
};

/** `judge-many DIR --json-lines`: every trace of a folder, one line of JSON each. */
export function judgeManyCommand(): Command {
  const command = new Command('judge-many')
    .description('judge every trace of a folder, one line of JSON each')
    .argument('<folder>', 'folder of NAME.csv with NAME.plan.yaml beside each, and NAME.thresholds.yaml where wanted')
    .option('--json-lines', 'one line of JSON a trace (there is no other output; the option says so in scripts)')
    .option('--plan <file>', 'plan for the traces that have none beside them')
    .option('--thresholds <file>', 'thresholds for the traces that have none beside them')
    .addOption(new Option('--jobs <number>', 'how many traces are judged at once').argParser(atLeastOne).default(cpus().length, 'one for each core'))
    .option('--progress', 'tell on stderr how far it is, also where that is not a terminal')
    .addHelpText(
      'after',
      `
A line is what judge --json prints, with the name of the file in 'file'; a trace of several runs has the worst 'verdict'
and its 'runs'. A trace that cannot be read has 'error' instead of a verdict, and the exit code is then 2; otherwise it is
that of the worst verdict (0 pass, 1 fail, 3 inconclusive).

Example:
  dwellkeeper judge-many recorded/ --json-lines > outcomes.jsonl`,
    );
  return withImportFlags(command).action(run);
}

async function run(folder: string, flags: Flags): Promise<void> {
  // A common file that is wrong is told once, before anything is judged.
  if (flags.plan !== undefined) readPlanFile(flags.plan);
  readThresholdsFile(flags.thresholds);
  const jobs = jobsIn(folder, flags);
  const progress = new ProgressLine(jobs.length, flags.progress === true || process.stderr.isTTY === true);
  const verdicts = new Map<Verdict | null, number>();
  await judgeAll(jobs, flags.jobs, importOptionsOf(flags), async ({ line, verdict }) => {
    verdicts.set(verdict, (verdicts.get(verdict) ?? 0) + 1);
    progress.step(verdict);
    if (!process.stdout.write(`${line}\n`)) await once(process.stdout, 'drain');
  });
  progress.end();
  process.exitCode = verdicts.has(null) ? badInput : exitCodeOf([...verdicts.keys()].filter((verdict) => verdict !== null));
}

function jobsIn(folder: string, flags: Flags): JudgeJob[] {
  const files = namesIn(folder).filter((name) => /\.csv$/i.test(name)).sort();
  if (files.length === 0) throw inputError(folder, '', 'holds no trace; it should hold NAME.csv files with NAME.plan.yaml beside each');
  return files.map((file, index): JudgeJob => {
    const beside = (kind: string): string | undefined => {
      const path = join(folder, file.replace(/\.csv$/i, `.${kind}.yaml`));
      return existsSync(path) ? path : undefined;
    };
    return { index, file, trace: join(folder, file), plan: beside('plan') ?? flags.plan, thresholds: beside('thresholds') ?? flags.thresholds };
  });
}

function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    throw inputError(folder, '', code === 'ENOENT' ? 'there is no such folder' : code === 'ENOTDIR' ? 'is a file; give a folder' : `cannot be read (${code ?? 'unknown'})`, error);
  }
}
