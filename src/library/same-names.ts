import type { FileProblem } from './plan-library.js';

/** A plan by its file. */
interface NamedPlan {
  readonly file: string;
  readonly name: string;
}

/** Plans whose files differ and whose names do not: records and lists cannot tell them apart. One sentence for each file but the first. */
export function sameNames(plans: readonly NamedPlan[]): FileProblem[] {
  const first = new Map<string, string>();
  return plans.flatMap(({ file, name }) => {
    const before = first.get(name.toLowerCase());
    if (before === undefined) first.set(name.toLowerCase(), file);
    return before === undefined ? [] : [{ file, text: `is called '${name}' as ${before} is; give each plan a name of its own` }];
  });
}
