import type { Finding } from '../../outcome.js';
import { holdFloor, reachLevel } from '../../plan.js';
import { finding, type CycleContext } from '../context.js';
import { bar, limitBar, limitOf, rounded, seconds } from '../showing.js';

/** The test pressure must have been reached, less its tolerance, and still be there once the pressure has settled. */
export function reach(c: CycleContext): Finding {
  const { cycle, plan, step } = c;
  const level = reachLevel(plan);
  if (!cycle.arrived) {
    const peak = cycle.peak ?? 0;
    const spiked = rounded(peak, step) >= level;
    const sentence = spiked
      ? `The test pressure was touched (${bar(peak, step)}) but not reached: the pressure did not stay at or above ${limitBar(level, step)}.`
      : `The test pressure was not reached: ${bar(peak, step)} at most, ${limitBar(level, step)} is needed.`;
    return finding('reach', 'undecided', sentence, { measured: rounded(peak, step), limit: limitOf(level, step), at: cycle.peakAt });
  }
  if (cycle.settled === null && cycle.settledBelow !== null) {
    const floor = holdFloor(plan);
    const { at, level: settled } = cycle.settledBelow;
    const back = cycle.stepBack;
    const why = back !== null && back.at > (cycle.lastPumping ?? 0) - 2
      ? `fell ${bar(back.height, step)} in ${seconds(back.seconds)}, then steady; a pump or isolating valve that lets water back looks like this`
      : `settled at ${bar(settled, step)}`;
    return finding('reach', 'undecided', `${limitBar(floor, step)} was not held after the last stroke: ${why}. Pump higher and hold again.`, {
      measured: rounded(settled, step), limit: limitOf(floor, step), at,
    });
  }
  const shown = cycle.holdStart ?? cycle.peak ?? 0;
  const when = cycle.reached === null ? 'before the recording began' : `at ${seconds(cycle.reached)}`;
  return finding('reach', 'met', `The test pressure was reached ${when}.`, { measured: rounded(shown, step), limit: limitOf(level, step), at: cycle.reached });
}
