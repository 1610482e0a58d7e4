import type { Finding } from '../../outcome.js';
import { resolve } from '../../quantity.js';
import { finding, type CycleContext } from '../context.js';
import { bar, limitBar, limitOf, rounded, seconds, within } from '../showing.js';
import { coverage, lossUncertainty } from '../uncertainty.js';

/** The loss from the settled start of the hold, added pressure taken off, must not exceed the maximum. */
export function drop(c: CycleContext): Finding | null {
  const { cycle, plan, step } = c;
  if (plan.maximumDrop === undefined) return null;
  if (cycle.settled === null || cycle.holdStart === null || cycle.drop === null) {
    return finding('drop', 'undecided', 'There was no hold to measure a loss in.');
  }
  const limit = limitOf(resolve(plan.maximumDrop, cycle.holdStart), step);
  // Both ends are shown, so the loss is the difference of the shown values.
  const lost = cycle.topUps.length === 0 && cycle.holdMinimum !== null
    ? rounded(Math.max(0, rounded(cycle.holdStart, step) - rounded(cycle.holdMinimum, step)), step)
    : rounded(cycle.drop, step);
  const guarded = plan.decisionRule === 'guarded';
  const uncertainty = guarded ? coverage * lossUncertainty(c) : null;
  const band = uncertainty ?? 0;
  const m = { measured: lost, limit, uncertainty, at: cycle.holdMinimumAt };
  const added = cycle.topUps.reduce((sum, t) => sum + t.rise, 0);
  const without = added > 0 ? ` (without the ${bar(added, step)} that the pump added)` : '';
  if (!within(lost, limit + band)) {
    return finding('drop', 'broken', `The pressure fell by ${bar(lost, step)}${without} from ${bar(cycle.holdStart, step)}; at most ${limitBar(limit, step)} is allowed: an assembly or a connection lost water.`, m);
  }
  if (guarded && lost > limit - band + 1e-9) {
    return finding('drop', 'undecided', `The loss of ${bar(lost, step)} is nearer to the limit of ${limitBar(limit, step)} than the uncertainty of ${bar(band, step / 10)}.`, m);
  }
  if (!cycle.holdDone) {
    return finding('drop', 'undecided', `The loss was ${bar(lost, step)} up to ${seconds((cycle.holdEnd ?? cycle.settled) - cycle.settled)} into the hold.`, m);
  }
  return finding('drop', 'met', `The pressure fell by ${bar(lost, step)}${without} during the hold; at most ${limitBar(limit, step)} is allowed.`, m);
}
