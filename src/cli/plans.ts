import { existsSync } from 'node:fs';
import { basename, resolve } from 'node:path';
import { Command } from 'commander';
import { inputError } from '../core/problems.js';
import { showQuantity } from '../core/quantity.js';
import { PlanLibrary, type ShelvedPlan } from '../library/plan-library.js';
import { sameNames } from '../library/same-names.js';
import { badInput } from './exit-codes.js';

interface Flags {
  readonly json?: true;
  readonly retired?: true;
}

/** `plans FOLDER [WORDS...]`: the plans of a folder, searched as on the page. Writes nothing. */
export function plansCommand(): Command {
  return new Command('plans')
    .description('list the plans of a folder, or find some of them')
    .argument('<folder>', 'folder with plan files')
    .argument('[words...]', "what to find: hose, size, pressure, any word; for example 2SN DN12 '280 bar'")
    .option('--json', 'for programs: {plans: [...], problems: [...]}, pressures in bar, times in s')
    .option('--retired', 'with those that are retired')
    .addHelpText('after', "\nExit code: 0, or 2 when a file of the folder is not right; the others are listed all the same.\n\nExample:\n  dwellkeeper plans plans 2SN DN12")
    .action((folder: string, words: readonly string[], flags: Flags) => {
      if (!existsSync(folder)) throw inputError(folder, '', 'there is no such folder');
      const library = new PlanLibrary(resolve(folder), [], Date.now, true);
      library.refresh();
      const inUse = library.plans().filter(({ newest }) => !newest.retired);
      const twins = sameNames(inUse.map(({ file, plan }) => ({ file: basename(file.path), name: plan.plan })));
      const plans = library.find(words.join(' ')).filter(({ newest }) => flags.retired === true || !newest.retired);
      if (flags.json) console.log(JSON.stringify({ plans: plans.map(lineOf), problems: library.problems, ...(twins.length > 0 && { warnings: twins }) }, undefined, 2));
      else {
        for (const plan of plans) console.log(sentenceOf(plan));
        if (plans.length === 0) console.log('no plan fits');
        for (const { file, text } of library.problems) console.error(`${file}: ${text}`);
        for (const { file, text } of twins) console.error(`warning: ${file}: ${text}`);
      }
      if (library.problems.length > 0) process.exitCode = badInput;
    });
}

const lineOf = ({ key, plan, newest }: ShelvedPlan) => ({
  key, name: plan.plan, testPressure_bar: plan.testPressure, holdTime_s: plan.holdTime, cycles: plan.cycles, version: newest.version, sha256: newest.sha256, retired: newest.retired,
});

const sentenceOf = ({ key, plan, newest }: ShelvedPlan): string =>
  `${key}: ${plan.plan}, ${showQuantity(plan.testPressure, 'pressure')} held ${showQuantity(plan.holdTime, 'time')}${newest.version === 0 ? '' : `, version ${newest.version}`}${newest.retired ? ', retired' : ''}`;
