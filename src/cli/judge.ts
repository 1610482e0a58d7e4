import { Command } from 'commander';
import { describeImport, isWorthTelling } from '../core/import/describe-import.js';
import { ProblemGatherer } from '../core/problem-gatherer.js';
import { describeOutcome } from './describe-outcome.js';
import { exitCodeOf } from './exit-codes.js';
import { importOptionsOf, withImportFlags, type ImportFlags } from './import-flags.js';
import { instrumentOf, withInstrumentFlags, type InstrumentFlags } from './instrument-flags.js';
import { judgeFile, readPlanFile, readThresholdsFile } from './judge-file.js';
import { paintFor } from './paint.js';

interface Flags extends ImportFlags, InstrumentFlags {
  readonly plan?: string;
  readonly thresholds?: string;
  readonly json?: true;
}

/** `judge TRACE.csv --plan PLAN.yaml`: the outcome of a recorded trace. */
export function judgeCommand(): Command {
  const command = new Command('judge')
    .description('judge a recorded trace against a plan')
    .argument('<trace>', 'file of times and pressures, for example trace.csv')
    .option('--plan <file>', 'the plan; without one the run is measured and stays inconclusive')
    .option('--thresholds <file>', 'how the signal is read; without one the standard thresholds hold')
    .option('--json', 'print the outcome as JSON, times in s and pressures in bar')
    .addHelpText(
      'after',
      `
Exit code: 0 pass, 1 fail, 3 inconclusive, 2 for input that must be corrected. A trace that holds several runs is judged
run by run; the JSON is then a list and the exit code the worst of them.

Examples:
  dwellkeeper judge trace.csv --plan plan.yaml
  dwellkeeper judge logger.txt --plan plan.yaml --column 'P1' --unit psi --time-unit ms --json`,
    );
  return withInstrumentFlags(withImportFlags(command)).action((trace: string, flags: Flags) => {
    const [plan, thresholds] = bothOrAllProblems(
      () => (flags.plan === undefined ? null : readPlanFile(flags.plan)),
      () => readThresholdsFile(flags.thresholds),
    );
    const { outcomes, report } = judgeFile(trace, plan, thresholds, importOptionsOf(flags), instrumentOf(flags));
    if (flags.json) {
      console.log(JSON.stringify(outcomes.length === 1 ? outcomes[0] : outcomes));
      if (isWorthTelling(report)) console.error(describeImport(report).join('\n'));
    } else {
      const paint = paintFor(process.stdout);
      const parts = outcomes.map((outcome, i) => `${outcomes.length > 1 ? `Run ${i + 1} of ${outcomes.length}: ` : ''}${describeOutcome(outcome, paint)}`);
      console.log([...parts, paint.quiet(describeImport(report).join('\n'))].join('\n\n'));
    }
    process.exitCode = exitCodeOf(outcomes.map(({ verdict }) => verdict));
  });
}

/** Reads two files; what is wrong with either is told in one go. */
function bothOrAllProblems<A, B>(first: () => A, second: () => B): [A, B] {
  const problems = new ProblemGatherer();
  const found = [problems.attempt(first), problems.attempt(second)] as const;
  if (problems.errors.length > 0) throw new AggregateError(problems.errors);
  return found as [A, B];
}
