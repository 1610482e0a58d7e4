import { once } from 'node:events';
import { Command } from 'commander';
import { inputError } from '../core/problems.js';
import type { Candidate } from '../tuning/judging.js';
import { concerns, type Concern } from '../tuning/run-change.js';
import { FlipReport, isAgainstLabel, whatWouldFlip, type FlipSummary } from '../tuning/what-would-flip.js';
import type { Compared } from '../tuning/tasks.js';
import { badInput } from './exit-codes.js';
import { readPlanFile, readThresholdsFile } from './judge-file.js';
import { addressOf, choiceOf, interrupted, untilInterrupted, withLibraryFlags, type LibraryFlags } from './library-flags.js';
import { paintFor, type Paint } from './paint.js';
import { StepLine } from './step-line.js';

interface Flags extends LibraryFlags {
  readonly thresholds?: string;
  readonly plan?: string;
  readonly all?: true;
  readonly json?: true;
  readonly jsonLines?: true;
}

/** Exit code where a verdict flips. */
const flips = 1;

/** `compare STORE|FOLDER --thresholds NEW.yaml`: which past verdicts would flip. */
export function compareCommand(): Command {
  const command = new Command('compare')
    .description('judge recorded runs again with other thresholds or another plan, and tell which verdicts flip')
    .argument('<library>', 'a store, or a folder of NAME.csv with NAME.plan.yaml beside each')
    .option('--thresholds <file>', 'thresholds to try in the place of those that each run was judged by')
    .option('--plan <file>', 'plan to try in the place of the one that each run was judged by; see --under')
    .option('--all', 'tell also the runs of which only figures change')
    .option('--json', 'print everything as JSON, the runs that change sorted by concern')
    .option('--json-lines', 'print every run as a line of JSON as it is judged, with its outcomes, then the summary')
    .addHelpText(
      'after',
      `
A run of a store is compared with the verdict on record; a trace of a folder with what it comes to by the plan and the
thresholds beside it (the standard ones where there are none), read as judge and judge-many read it. New passes come
first, then new fails, then what is no longer decided. Nothing is written. Ctrl-C stops it.

Exit code: 0 when no verdict flips, 1 when any does, 2 for input that must be corrected or a run that cannot be read.

Examples:
  dwellkeeper compare records.sqlite --thresholds new.yaml --since 2027-03-01
  dwellkeeper compare recorded/ --plan stricter.yaml --under 'two-wire DN12 proof' --json`,
    );
  return withLibraryFlags(command).action(compare);
}

async function compare(path: string, flags: Flags): Promise<void> {
  const candidate: Candidate = {
    ...(flags.thresholds !== undefined && { thresholds: readThresholdsFile(flags.thresholds) }),
    ...(flags.plan !== undefined && { plan: readPlanFile(flags.plan) }),
  };
  if (flags.thresholds === undefined && flags.plan === undefined) throw inputError('compare', '', 'say what to try: --thresholds NEW.yaml, --plan NEW.yaml or both');
  const [address, choice] = [addressOf(path, flags), choiceOf(flags)];
  const report = new FlipReport();
  const line = new StepLine(flags.progress === true || process.stderr.isTTY === true);
  const { signal, done: over } = untilInterrupted();
  let seen = 0;
  let total = 0;
  try {
    for await (const step of whatWouldFlip(address, candidate, { choice, threads: flags.jobs, signal, whole: flags.jsonLines === true })) {
      ({ done: seen, total } = step);
      report.take(step);
      line.step(() => `${step.done} of ${step.total} ${step.total === 1 ? 'run' : 'runs'} judged again, ${report.summary().flips} flips`);
      if (flags.jsonLines) await write({ ...('result' in step.run ? step.run.result : step.run) });
    }
  } catch (error) {
    if (!signal.aborted) throw error;
  } finally {
    over();
    line.end();
  }
  if (signal.aborted) {
    console.error(`Stopped after ${seen} of ${total} runs; nothing was written.`);
    process.exitCode = interrupted;
    return;
  }
  const summary = report.summary();
  if (summary.judged === 0 && summary.unread === 0) throw inputError(path, '', 'holds no run that is over and that is asked for');
  if (flags.jsonLines) await write({ summary });
  else if (flags.json) await write({ summary, runs: report.runs() });
  else tell(report.runs(), summary, flags.all === true);
  process.exitCode = summary.unread > 0 ? badInput : summary.flips > 0 ? flips : 0;
}

/** A line of JSON, at the pace of whoever reads it. */
async function write(value: object): Promise<void> {
  if (!process.stdout.write(`${JSON.stringify(value)}\n`)) await once(process.stdout, 'drain');
}

const headings: Readonly<Record<Exclude<Concern, 'none'>, string>> = {
  'new pass': 'Would pass now',
  'new fail': 'Would fail now',
  'no longer decided': 'Would no longer be decided',
  findings: 'Same verdict, other findings',
  figures: 'Same findings, other figures',
};

function tell(runs: readonly Compared[], summary: FlipSummary, all: boolean): void {
  const paint = paintFor(process.stdout);
  for (const concern of concerns) {
    const some = runs.filter(({ change }) => change.concern === concern);
    if (concern === 'none' || some.length === 0 || (concern === 'figures' && !all)) continue;
    console.log(paint.bold(`${headings[concern]}: ${summary.byConcern[concern]}`));
    for (const run of some) console.log(`  ${lineOf(run, paint)}`);
    console.log('');
  }
  const { judged, flips: flipped, byConcern, againstLabels, byProgram, unread, problems, otherPlans } = summary;
  console.log(paint.bold(flipped === 0 ? (judged === 1 ? 'The one verdict would not flip.' : `No verdict of ${judged} would flip.`) : `${flipped} of ${judged} ${judged === 1 ? 'verdict' : 'verdicts'} would flip.`));
  if (byConcern.findings > 0) console.log(`${byConcern.findings} keep their verdict with other findings.`);
  if (byConcern.figures > 0) console.log(`${byConcern.figures} keep their findings with other figures${all ? '' : ' (--all tells which)'}.`);
  if (againstLabels > 0) console.log(paint.bad(`${againstLabels} of the new verdicts contradict what is known of the run.`));
  if (byProgram > 0) console.log(`${byProgram} come out otherwise with their own plan and thresholds already: another version of the program judged them.`);
  if (otherPlans.length > 0) console.log(`The new plan was also tried on runs under other plans (${otherPlans.join(', ')}); --under chooses.`);
  for (const problem of problems) console.error(problem);
  if (unread > problems.length) console.error(`and ${unread - problems.length} more that could not be judged`);
}

function lineOf(run: Compared, paint: Paint): string {
  const { before, after, findings } = run.change;
  const when = run.wall === null ? '' : ` ${new Date(run.wall).toISOString().slice(0, 16).replace('T', ' ')}Z`;
  const known = run.labels.truth === null ? '' : ` (${isAgainstLabel(run) ? paint.bad(run.labels.truth) : run.labels.truth})`;
  const verdicts = before.verdict === after.verdict ? after.verdict : `${before.verdict} -> ${paint.bold(after.verdict)}`;
  const why = after.because ?? before.because;
  const was = after.because === null && before.because !== null ? 'was ' : '';
  const changed = findings.map(({ rule, cycle, before: old, after: now }) => `${rule}${cycle > 1 ? ` of cycle ${cycle}` : ''} ${old ?? 'not applied'} -> ${now ?? 'not applied'}`).join(', ');
  return `${run.name}${when}: ${verdicts}${known}${changed === '' ? '' : `; ${changed}`}${why === null ? figures(run) : `; ${was}${why.rule}: ${why.sentence}`}${after.runs === 1 ? '' : ` (${after.runs} runs are found)`}`;
}

const figures = ({ change: { before, after } }: Compared): string =>
  (['settled', 'holdEnd', 'peak', 'drop', 'spikes', 'glitches'] as const)
    .flatMap((key) => (before[key] === after[key] ? [] : [`; ${key} ${String(before[key])} -> ${String(after[key])}`]))
    .join('');
