import type { Finding } from '../../outcome.js';
import { minimumDuringHold } from '../../plan.js';
import { finding, type CycleContext } from '../context.js';
import { bar, limitBar, rounded, seconds } from '../showing.js';
import { coverage, levelUncertainty } from '../uncertainty.js';

/** The pressure must not stay below the minimum during the hold. */
export function minimum(c: CycleContext): Finding | null {
  const { cycle, plan, step, limits } = c;
  const limit = minimumDuringHold(plan);
  if (limit === undefined) return null;
  if (cycle.settled === null || cycle.holdMinimum === null) {
    return finding('minimum', 'undecided', 'There was no hold to watch the minimum in.', { limit });
  }
  const lowest = rounded(cycle.holdMinimum, step);
  const guarded = plan.decisionRule === 'guarded';
  const uncertainty = guarded ? coverage * levelUncertainty(c) : null;
  const m = { measured: lowest, limit, uncertainty, at: cycle.holdMinimumAt };
  const band = uncertainty ?? 0;
  if (lowest < limit - band - 1e-9) {
    const since = cycle.breachAt === null ? '' : ` from ${seconds(cycle.breachAt)} on`;
    return finding('minimum', 'broken',
      `The pressure stayed below the minimum of ${limitBar(limit, step)} for more than ${seconds(limits.breachTime)}${since}; the lowest was ${bar(lowest, step)}.`, m);
  }
  if (guarded && lowest < limit + band - 1e-9) {
    return finding('minimum', 'undecided', `The lowest pressure of ${bar(lowest, step)} is nearer to the minimum of ${limitBar(limit, step)} than the uncertainty of ${bar(band, step / 10)}.`, m);
  }
  if (!cycle.holdDone) return finding('minimum', 'undecided', `Up to the end of what was seen the pressure stayed at or above ${bar(lowest, step)}.`, m);
  return finding('minimum', 'met', `The lowest pressure of the hold was ${bar(lowest, step)}; at least ${limitBar(limit, step)} is asked for.`, m);
}
