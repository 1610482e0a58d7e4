import { isMap, parse, parseDocument } from 'yaml';
import { parsePlan, type Plan } from '../../src/core/plan.js';
import { InputError, type Problem } from '../../src/core/problems.js';
import type { WrittenField } from '../../src/server/setup-answers.js';
import type { Changes } from './change-history.js';

/** A plan that is tried in the place of another. */
export interface PlanOnTrial {
  readonly plan: Plan;
  /** Name of the plan whose runs it is tried on; `null` for all runs. */
  readonly of: string | null;
}

/** The plan that a run is read with. */
export const planFor = (own: Plan | null, trial: PlanOnTrial | null): Plan | null => (trial === null || (trial.of !== null && trial.of !== own?.plan) ? own : trial.plan);

/** Text of a plan with fields changed, by their keys; an empty text leaves a field out. */
export function planText(text: string, fields: readonly WrittenField[], changes: Changes): string {
  const document = parseDocument(text);
  for (const [key, wanted] of Object.entries(changes)) {
    const path = key.split('.');
    if (wanted !== '') document.setIn(path, typed(fields.find((field) => field.key === key)?.kind ?? 'text', wanted));
    else if (document.hasIn(path)) {
      document.deleteIn(path);
      const [group = ''] = path;
      const left = path.length > 1 ? document.get(group) : null;
      if (isMap(left) && left.items.length === 0) document.delete(group);
    }
  }
  return document.toString({ lineWidth: 0 });
}

function typed(kind: WrittenField['kind'], text: string): string | number | boolean {
  if (kind === 'switch' && (text === 'true' || text === 'false')) return text === 'true';
  return kind === 'count' && /^\d+$/.test(text) ? Number(text) : text;
}

/** What a text of a plan means. @throws InputError */
export const planIn = (text: string): Plan => parsePlan(parse(text) as unknown, '');

/** What is wrong with it, by field; none where it is right. */
export function planProblems(text: string): readonly Problem[] {
  try {
    planIn(text);
    return [];
  } catch (error) {
    if (error instanceof InputError) return error.problems;
    throw error;
  }
}

/** Pressures of a plan that lie across the plot and can be taken hold of there. */
export const planLimits = ['testPressure', 'minimumPressure', 'ceilingPressure'] as const satisfies readonly (keyof Plan)[];
export type PlanLimit = (typeof planLimits)[number];
