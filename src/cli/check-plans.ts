import { existsSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { InputError } from '../core/problems.js';
import { readPlan } from '../daemon/bench-setup.js';
import { PlanLibrary, type FileProblem } from '../library/plan-library.js';
import { sameNames } from '../library/same-names.js';

/** What came of looking through the plans of a shop. */
export interface CheckedPlans {
  readonly plans: number;
  /** One for each file that is not right, with its place. */
  readonly errors: readonly InputError[];
  /** What is possible and looks like a mistake, with the path of each file. */
  readonly warnings: readonly FileProblem[];
}

const planFile = /^[^.].*\.ya?ml$/i;

/** Reads every plan of a folder, and looks at the library as the daemon would. Writes nothing. A folder that is not there has none. */
export function checkPlans(folder: string): CheckedPlans {
  if (!existsSync(folder)) return { plans: 0, errors: [], warnings: [] };
  const errors: InputError[] = [];
  const plans: { file: string; name: string }[] = [];
  const files = namesIn(folder, errors);
  for (const name of files) {
    try {
      plans.push({ file: name, name: readPlan(join(folder, name)).value.plan });
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      errors.push(error);
    }
  }
  // Two files of one name, a version that cannot be read: what no file shows by itself.
  const library = new PlanLibrary(folder, [], Date.now, true);
  library.refresh();
  const told = new Set(errors.flatMap(({ source, problems: [first] }) => (first === undefined ? [] : [`${source}: ${[first.place, first.text].filter((part) => part !== '').join(': ')}`])));
  for (const { file, text } of library.problems) {
    const path = join(folder, file);
    if (!told.has(`${path}: ${text.replace(/ \(and \d+ more\)$/, '')}`)) errors.push(new InputError(path, [{ place: '', text }]));
  }
  return { plans: plans.length, errors, warnings: sameNames(plans).map(({ file, text }) => ({ file: join(folder, file), text })) };
}

function namesIn(folder: string, errors: InputError[]): string[] {
  try {
    return readdirSync(folder, { withFileTypes: true }).filter((entry) => entry.isFile() && planFile.test(entry.name)).map(({ name }) => name).sort();
  } catch (cause) {
    const code = cause instanceof Error && 'code' in cause ? String(cause.code) : String(cause);
    errors.push(new InputError(folder, [{ place: '', text: `the plans cannot be read (${code})` }], { cause }));
    return [];
  }
}
