import { Command, Option } from 'commander';
import { inputError } from '../core/problems.js';
import { findHose } from '../plans/find-hose.js';
import { hoseTables } from '../plans/hose-tables.js';
import { planForHose, planKinds, type PlanKind } from '../plans/plan-for-hose.js';
import { parseRating } from '../plans/rating.js';

interface Flags {
  readonly hose?: string;
  readonly workingPressure?: string;
  readonly fittingRating: readonly string[];
  readonly kind: PlanKind;
  readonly hold?: string;
  readonly list?: true;
}

/** `plan --hose 'ISO 1436 2SN DN12'`: a plan on stdout, every limit with its reason. */
export function planCommand(): Command {
  return new Command('plan')
    .description('write a plan for a hose assembly to stdout')
    .option('--hose <name>', "standard, type and size of the hose: 'ISO 1436 2SN DN12', 'SAE 100R12-16', '4SH 3/4\"'")
    .option('--working-pressure <pressure>', 'working pressure printed on the hose, where no standard names it')
    .option('--fitting-rating <pressure>', 'working pressure of an end fitting; give it once for each end', (text: string, sofar: readonly string[]) => [...sofar, text], [])
    .addOption(new Option('--kind <kind>', 'what is tested; leakage and burst destroy the assembly').choices(planKinds).default('proof'))
    .option('--hold <time>', "hold of a proof test, for example '30 s' (default 60 s)")
    .option('--list', 'list the standards and hose types that are known')
    .addHelpText('after', "\nExample:\n  dwellkeeper plan --hose 'ISO 1436 2SN DN12' --fitting-rating '350 bar' --fitting-rating '315 bar' > plan.yaml")
    .action((flags: Flags) => {
      if (flags.list) return console.log(hoseList());
      if ((flags.hose === undefined) === (flags.workingPressure === undefined)) {
        throw inputError('plan', '', "give either --hose, for example --hose 'ISO 1436 2SN DN12', or --working-pressure, for example --working-pressure '275 bar'");
      }
      if (flags.hold !== undefined && flags.kind !== 'proof') throw inputError('--hold', '', `is for a proof test; the holds of a ${flags.kind} test are fixed by the standards`);
      const hose = flags.hose === undefined ? parseRating(flags.workingPressure ?? '', '--working-pressure') : findHose(flags.hose);
      const fittings = flags.fittingRating.map((text) => parseRating(text, '--fitting-rating'));
      process.stdout.write(planForHose({ hose, fittings, kind: flags.kind, hold: flags.hold }));
    });
}

const hoseList = (): string =>
  hoseTables.map(({ standards, hose, types }) => `${standards.map(({ name }) => name).join(' = ')} (${hose})\n  ${types.map(({ name }) => name).join(', ')}`).join('\n');
