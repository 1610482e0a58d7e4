import { basename, dirname } from 'node:path';
import { Command, InvalidArgumentError, Option } from 'commander';
import { stringify } from 'yaml';
import { inputError } from '../core/problems.js';
import type { Thresholds } from '../core/thresholds.js';
import type { Proportion } from '../tuning/proportion.js';
import { proposeThresholds, type ProposalReport } from '../tuning/propose.js';
import { parseSweep } from '../tuning/sweep-spec.js';
import { sweepLibrary, type LabelCounts, type SweepReport, type TuneOptions } from '../tuning/sweep.js';
import { usualCosts, type Costs, type Tally } from '../tuning/tally.js';
import { thresholdOf, writtenThresholds, type ThresholdKey } from '../tuning/written-thresholds.js';
import { badInput } from './exit-codes.js';
import { checkFolder, writeFileWhole } from './export-files.js';
import { readThresholdsFile } from './judge-file.js';
import { addressOf, choiceOf, interrupted, untilInterrupted, withLibraryFlags, type LibraryFlags } from './library-flags.js';
import { StepLine } from './step-line.js';

interface Flags extends LibraryFlags {
  readonly sweep: readonly string[];
  readonly thresholds?: string;
  readonly cost: number;
  readonly write?: string;
  readonly force?: true;
  readonly json?: true;
}

const cost = (text: string): number => {
  const [, value] = /^(\d+(?:\.\d+)?)(?::1)?$/.exec(text.trim()) ?? [];
  if (value === undefined || !(Number(value) >= 1)) throw new InvalidArgumentError("It should be 1 or more, for example '100:1'.");
  return Number(value);
};

/** `tune STORE|FOLDER`: thresholds from labelled runs. */
export function tuneCommand(): Command {
  const command = new Command('tune')
    .description('propose thresholds from labelled runs, or show the trade-off over one or two of them')
    .argument('<library>', 'a store with labelled runs, or a folder of NAME.csv with NAME.plan.yaml and NAME.truth.json beside each')
    .option('--sweep <range>', "a threshold and its values, for example 'settleSlope=0.1..1 %/min/6'; may be given twice", (text: string, sofar: Flags['sweep']) => [...sofar, text], [])
    .option('--thresholds <file>', 'thresholds to begin from; without it those that each run was judged by')
    .addOption(new Option('--cost <ratio>', 'what a false pass costs, with a false fail as 1').argParser(cost).default(usualCosts.falsePass, '100:1'))
    .option('--write <file>', 'write the thresholds that are proposed, or cost least of those swept, to a new file')
    .option('--force', 'write over a file that is there')
    .option('--json', 'print everything as JSON')
    .addHelpText(
      'after',
      `
Only labelled runs count: 'truly leaking', 'truly sound' and 'cannot tell' (dwellkeeper label, or NAME.truth.json such as
{"label":"truly leaking"}), and excursions known to be a real spike or none. A false pass is a leaking run that passes, or
one that cannot tell; it costs most. A run that stays undecided costs ${usualCosts.undecided}, a spike missed or told wrongly ${usualCosts.spike}. Intervals are exact ones of 95 %
(Clopper and Pearson): none of 30 still leaves up to 12 %.

A value is proposed only where it does better on hoses and plans that it was not chosen by, too; of the standard value it is
asked only that it does no worse there. Nothing is written without --write. Values are the shop's own to decide: a
proposal is no better than its labels.

Exit code: 0, 2 for input that must be corrected or a run that cannot be read.

Examples:
  dwellkeeper tune records.sqlite --write tuned.yaml
  dwellkeeper tune recorded/ --sweep 'spikeHeight=0.5..3 %/6' --sweep 'spikeWidth=0.1..0.5 s/3'`,
    );
  return withLibraryFlags(command).action(tune);
}

async function tune(path: string, flags: Flags): Promise<void> {
  const base = flags.thresholds === undefined ? undefined : readThresholdsFile(flags.thresholds);
  const sweeps = flags.sweep.map(parseSweep);
  const costs: Costs = { ...usualCosts, falsePass: flags.cost };
  if (flags.write !== undefined) checkFolder(dirname(flags.write), [basename(flags.write)], flags.force === true);
  const line = new StepLine(flags.progress === true || process.stderr.isTTY === true);
  const { signal, done: over } = untilInterrupted();
  const options: TuneOptions = {
    choice: choiceOf(flags), threads: flags.jobs, signal, costs, ...(base && { base }),
    progress: (done, total) => line.step(() => `${done} of ${total} runs looked at`),
  };
  const address = addressOf(path, flags, true);
  try {
    const found = sweeps.length > 0 ? { sweep: await sweepLibrary(address, sweeps, options) } : { proposal: await proposeThresholds(address, options) };
    line.end();
    const { labelled, problems } = found.sweep ?? found.proposal;
    if (labelled.groups === 0 && labelled.unlabelled === 0 && problems.length === 0) throw inputError(path, '', 'holds no run that is over and that is asked for');
    if (flags.json) console.log(JSON.stringify(found.sweep ?? found.proposal));
    else if (found.sweep) tellSweep(found.sweep);
    else tellProposal(found.proposal);
    for (const problem of problems) console.error(problem);
    if (problems.length > 0) process.exitCode = badInput;
    if (flags.write !== undefined) {
      const unchanged = found.proposal?.proposals.every(({ present, proposed }) => present === proposed) === true;
      const say = flags.json ? console.error : console.log;
      if (unchanged) say(`No other value is proposed; ${flags.write} was not written.`);
      else {
        await write(flags.write, found.sweep ? cheapest(found.sweep, base) : writtenThresholds(found.proposal.thresholds), found.sweep ? null : found.proposal, flags);
        say(`Written to ${flags.write}.`);
      }
    }
  } catch (error) {
    if (!signal.aborted) throw error;
    line.end();
    console.error('Stopped; nothing was written.');
    process.exitCode = interrupted;
  } finally {
    over();
  }
}

function cheapest({ rows, cheapest }: SweepReport, base: Thresholds | undefined): Record<string, string> {
  const row = cheapest === null ? undefined : rows[cheapest];
  if (row === undefined) throw inputError('tune', '--write', 'has nothing to write: no run is labelled');
  const changes = Object.entries(row.values).reduce<Partial<Thresholds>>((all, [key, text]) => ({ ...all, ...thresholdOf(key as ThresholdKey, text, 'tune') }), {});
  return base === undefined ? { thresholds: 'tuned', ...row.values } : writtenThresholds({ ...base, ...changes });
}

async function write(file: string, content: Record<string, string>, proposal: ProposalReport | null, { force }: Flags): Promise<void> {
  const reasons = proposal?.proposals.filter(({ present, proposed }) => present !== proposed).map(({ key, present, proposed, reason }) => `# ${key}: ${present} -> ${proposed}, ${reason}\n`) ?? [];
  const named = { ...content, thresholds: content['thresholds'] === 'standard' || content['thresholds'] === undefined ? 'tuned' : content['thresholds'] };
  await writeFileWhole(dirname(file), { name: basename(file), text: () => [`# Proposed from labelled runs; look at it with dwellkeeper compare before it is used.\n`, ...reasons, stringify(named)] }, force === true);
}

const percent = ({ count, of, share, lower, upper }: Proportion): string =>
  share === null ? '-' : `${count}/${of} ${(100 * share).toFixed(0)} % (${(100 * lower).toFixed(0)} to ${(100 * upper).toFixed(0)})`;

const columns: readonly [string, (row: Tally) => string][] = [
  ['false pass', (row) => percent(row.falsePass)],
  ['false fail', (row) => percent(row.falseFail)],
  ['undecided', (row) => percent(row.undecided)],
  ['spikes missed', (row) => percent(row.spikesMissed)],
  ['told wrongly', (row) => percent(row.falseSpikes)],
  ['cost', (row) => String(Number(row.cost.toFixed(1)))],
];

function tellSweep({ keys, present, rows, cheapest, labelled, notes }: SweepReport): void {
  console.log(`${labelWords(labelled)}\n`);
  const lines = [
    [...keys, ...columns.map(([title]) => title)],
    [...keys.map((_, i) => (i === 0 ? 'as it is' : '')), ...columns.map(([, show]) => show(present))],
    ...rows.map((row) => [...keys.map((key) => row.values[key as ThresholdKey] ?? ''), ...columns.map(([, show]) => show(row))]),
  ];
  printTable(lines);
  const best = cheapest === null ? undefined : rows[cheapest];
  if (best) console.log(`\nLeast cost: ${keys.map((key) => `${key} ${best.values[key as ThresholdKey] ?? ''}`).join(', ')}${best.cost >= present.cost ? '; the thresholds as they are cost no more' : ''}.`);
  for (const note of notes) console.log(note);
}

function tellProposal({ proposals, present, proposed, labelled, notes }: ProposalReport): void {
  console.log(`${labelWords(labelled)}\n`);
  for (const { key, present: now, proposed: next, reason } of proposals) console.log(now === next ? `  ${key} ${now}: kept; ${reason}.` : `  ${key} ${now} -> ${next}: ${reason}.`);
  if (proposals.length > 0) {
    console.log('');
    printTable([['', ...columns.map(([title]) => title)], ['as it is', ...columns.map(([, show]) => show(present))], ['proposed', ...columns.map(([, show]) => show(proposed))]]);
  }
  for (const note of notes) console.log(note);
}

const labelWords = ({ leaking, sound, untold, realSpikes, falseSpikes, unlabelled, groups }: LabelCounts): string =>
  `${leaking} runs truly leaking, ${sound} truly sound${untold === 0 ? '' : `, ${untold} that cannot tell`}, ${realSpikes} real spikes and ${falseSpikes} that are none, of ${groups} ${groups === 1 ? 'kind' : 'kinds'} of hose and plan; ${unlabelled} without a label.`;

function printTable(lines: readonly (readonly string[])[]): void {
  const widths = (lines[0] ?? []).map((_, i) => Math.max(...lines.map((row) => (row[i] ?? '').length)));
  for (const row of lines) console.log(row.map((cell, i) => cell.padEnd(widths[i] ?? 0)).join('  ').trimEnd());
}
