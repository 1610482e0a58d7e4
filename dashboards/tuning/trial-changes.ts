import type { Changes } from './change-history.js';

/**
 * Thresholds and a plan are tried together, and undone in the order in which they were changed: one history holds both.
 * A threshold stands under its own key, a field of the plan under `plan.` and its key, the plan itself under `plan`.
 */
export interface TrialChanges {
  readonly thresholds: Changes;
  /** Key of the plan that is tried; `null` for none: each run keeps its own. */
  readonly planKey: string | null;
  readonly plan: Changes;
}

const planIs = 'plan';
const within = `${planIs}.`;

/** The key of a field of the plan in the history. */
export const planKeyOf = (field: string): string => `${within}${field}`;

/** What of the changes is whose. */
export function trialOf(changes: Changes): TrialChanges {
  const all = Object.entries(changes);
  return {
    thresholds: Object.fromEntries(all.filter(([key]) => key !== planIs && !key.startsWith(within))),
    planKey: changes[planIs] ?? null,
    plan: Object.fromEntries(all.filter(([key]) => key.startsWith(within)).map(([key, text]) => [key.slice(within.length), text])),
  };
}

/** Both together, as the history has them. */
export const changesOf = ({ thresholds, planKey, plan }: TrialChanges): Changes => ({
  ...thresholds,
  ...(planKey !== null && { [planIs]: planKey, ...Object.fromEntries(Object.entries(plan).map(([key, text]) => [planKeyOf(key), text])) }),
});

/** Values that differ from what is in force or in the library. */
export const countOf = ({ thresholds, plan }: TrialChanges): number => Object.keys(thresholds).length + Object.keys(plan).length;
