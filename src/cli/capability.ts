import { Command, InvalidArgumentError, Option } from 'commander';
import { inputError } from '../core/problems.js';
import { parseQuantity } from '../core/quantity.js';
import { median } from '../core/fit/statistics.js';
import type { HoldConditions } from '../tuning/capability.js';
import { capabilityReport, holdsOf, usualConditions, type CapabilityQuestion, type CapabilityReport } from '../tuning/capability-report.js';
import { badInput } from './exit-codes.js';
import { pressureFlag } from './instrument-flags.js';
import { readPlanFile } from './judge-file.js';
import { addressOf, choiceOf, interrupted, untilInterrupted, withLibraryFlags, type LibraryFlags } from './library-flags.js';
import { StepLine } from './step-line.js';

interface Flags extends LibraryFlags {
  readonly plan?: string;
  readonly leakLimit?: number;
  readonly hold?: number;
  readonly noise?: number;
  readonly rate?: number;
  readonly json?: true;
}

const positive = (dimension: 'time' | 'pressureRate', example: string, factor = 1) => (text: string): number => {
  const value = parseQuantity(text, dimension, example);
  if (typeof value === 'string') throw new InvalidArgumentError(value);
  if (!(value > 0)) throw new InvalidArgumentError('It should be above 0.');
  return factor * value;
};
const hertz = (text: string): number => {
  const value = Number(text.replace(/\s*Hz$/i, ''));
  if (!(value > 0 && value <= 1e6)) throw new InvalidArgumentError("It should be readings a second, for example '100'.");
  return value;
};

/** `capability STORE|FOLDER|TRACE`: the smallest leak that a hold can tell from settling. */
export function capabilityCommand(): Command {
  const command = new Command('capability')
    .description('tell the smallest leak that a hold can tell from settling, and how long a hold a leak limit needs')
    .argument('<library>', 'a store, a folder of traces, or one trace with its plan beside it or in --plan')
    .option('--plan <file>', 'plan by which the holds are found, in the place of their own')
    .addOption(new Option('--leak-limit <rate>', "how long a hold must be for this limit, for example '1.5 bar/min'").argParser(positive('pressureRate', '1.5 bar/min', 60)))
    .addOption(new Option('--hold <time>', "what a hold of this length can tell, for example '60 s'").argParser(positive('time', '60 s')))
    .addOption(new Option('--noise <pressure>', "noise of a reading (standard deviation) in the place of what the holds show, for example '0.05 bar'").argParser(pressureFlag('0.05 bar')))
    .addOption(new Option('--rate <readings>', 'readings a second in the place of what the holds show; then they count as independent').argParser(hertz))
    .option('--json', 'print everything as JSON')
    .addHelpText(
      'after',
      `
Noise, its correlation and the settling are measured from the holds on record; the least error that any fit of leak and
settling together can have (the bound of Cramer and Rao) then says what a longer or shorter hold would tell. 'in practice'
multiplies it by what the fits of these very holds need beyond the bound, and adds what a settling that is too slow to be
seen may be of a leak. What is assumed is printed below the table. A
hold that is too short for a leak limit leaves runs undecided; it never lets them pass.

Exit code: 0, 2 for input that must be corrected or a run that cannot be read.

Examples:
  dwellkeeper capability records.sqlite --leak-limit '1.5 bar/min'
  dwellkeeper capability trace.csv --plan plan.yaml --hold '120 s' --json`,
    );
  return withLibraryFlags(command).action(capability);
}

async function capability(path: string, flags: Flags): Promise<void> {
  const { plan, leakLimit, hold, noise, rate } = flags;
  const question: CapabilityQuestion = { ...(leakLimit !== undefined && { leakLimit }), ...(hold !== undefined && { hold }) };
  const line = new StepLine(flags.progress === true || process.stderr.isTTY === true);
  const { signal, done: over } = untilInterrupted();
  try {
    const candidate = plan === undefined ? {} : { plan: readPlanFile(plan) };
    const { seen, problems } = await holdsOf(addressOf(path, flags), candidate, {
      choice: choiceOf(flags), threads: flags.jobs, signal, progress: (done, total) => line.step(() => `${done} of ${total} runs read`),
    });
    line.end();
    const usual = usualConditions(seen);
    if (usual === null) throw inputError(path, '', problems[0] === undefined ? 'holds no hold that was done: give a plan by which one is found' : `holds no hold that can be measured; ${problems[0]}`);
    const conditions = conditionsAsked(usual, median(seen.map(({ interval }) => interval)), noise, rate);
    const report = capabilityReport(seen, conditions, question, problems);
    if (flags.json) console.log(JSON.stringify(report));
    else tell(report);
    for (const problem of problems) console.error(problem);
    if (problems.length > 0) process.exitCode = badInput;
  } catch (error) {
    if (!signal.aborted) throw error;
    line.end();
    process.exitCode = interrupted;
  } finally {
    over();
  }
}

/** With noise or rate given, readings count one by one and as independent, each as noisy as the averages let it be. */
function conditionsAsked(usual: HoldConditions, interval: number, noise: number | undefined, rate: number | undefined): HoldConditions {
  if (noise === undefined && rate === undefined) return usual;
  const together = Math.max(1, 1 / (usual.rate * interval));
  return { ...usual, rho: 0, sigma: noise ?? usual.sigma * Math.sqrt(together), rate: rate ?? 1 / interval };
}

const leak = (value: number): string => value.toPrecision(3);

function tell({ holds, conditions, overBound, hidden, rows, asked, assumptions }: CapabilityReport): void {
  const { sigma, rate, settling, timeConstant } = conditions;
  console.log(`${holds} ${holds === 1 ? 'hold' : 'holds'} measured: noise ${sigma.toPrecision(2)} bar ${rate < 20 ? `in averages of ${(1 / rate).toPrecision(2)} s` : `at ${rate.toPrecision(3)} readings a second`}, settling of ${settling.toPrecision(2)} bar with ${timeConstant.toPrecision(2)} s.`);
  console.log(`Their fits come to ${overBound.toFixed(2)} times the bound${hidden > 0 ? `, and ${leak(hidden)} bar/min of a leak may be a settling too slow to be seen` : ''}.\n`);
  console.log('hold s    smallest leak told, bar/min');
  console.log('            bound    in practice');
  for (const row of rows) console.log(`${String(row.hold).padStart(6)}  ${leak(row.bound).padStart(9)}  ${leak(row.practice).padStart(13)}`);
  console.log('');
  if (asked.hold) console.log(`A hold of ${asked.hold.hold} s tells a leak of ${leak(asked.hold.practice)} bar/min from settling.`);
  if (asked.limit) console.log(asked.limit.needs === null ? `No hold of a day tells ${asked.limit.leakLimit} bar/min with this noise.` : `A leak limit of ${Number(asked.limit.leakLimit.toPrecision(6))} bar/min needs a hold of ${asked.limit.needs.toPrecision(3)} s or longer.`);
  console.log(assumptions.map((sentence) => `- ${sentence}`).join('\n'));
}
