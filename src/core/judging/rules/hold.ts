import type { Finding } from '../../outcome.js';
import { finding, type CycleContext } from '../context.js';
import { seconds } from '../showing.js';

/** The settled pressure must have been watched for the whole hold time. */
export function hold(c: CycleContext): Finding {
  const { cycle, plan, limits } = c;
  const m = { measured: 0, limit: plan.holdTime, unit: 's', at: cycle.endedAt };
  if (cycle.settled === null) return finding('hold', 'undecided', `No hold: ${whyNoHold(c)}.`, m);
  const held = Number(((cycle.holdEnd ?? cycle.settled) - cycle.settled).toFixed(3));
  const at = cycle.settled;
  if (!cycle.holdDone) {
    return finding('hold', 'undecided', `The hold lasted ${seconds(held)} of ${seconds(plan.holdTime)}: ${whyCut(c)}.`, { ...m, measured: held, at: cycle.holdEnd });
  }
  if (cycle.settledBy === 'timeout') {
    return finding('hold', 'undecided', `Settling did not end within ${seconds(limits.settleTimeout)}; what was lost afterwards may still be settling.`, { ...m, measured: held, at });
  }
  const steady = cycle.settledBy === 'steady' ? ' The pressure was falling steadily rather than settling, so the hold began.' : '';
  return finding('hold', 'met', `The hold was watched for ${seconds(held)} from ${seconds(at)} on.${steady}`, { ...m, measured: held, at });
}

/** More strokes than an operator makes once the test pressure is reached. */
const restless = 20;

function whyNoHold({ cycle, limits }: CycleContext): string {
  if (cycle.burst !== null) return 'the pressure was lost before';
  if (!cycle.arrived) return 'the test pressure was not reached';
  if (cycle.settledBelow !== null) return 'the settled pressure was too low';
  if (cycle.strokesAfter >= restless && cycle.burst === null) {
    return `${cycle.strokesAfter} rises like strokes came after the test pressure was reached, and ${seconds(limits.quietTime)} without one come before a hold. Where nobody pumped, the reading swings: look for vibration, pulsation or hum`;
  }
  if (cycle.vented !== null) return `the bench was vented before the pressure had settled (${seconds(limits.quietTime)} without a stroke come first)`;
  if (cycle.ended === 'emptied') return 'the pressure fell away before it had settled';
  return 'the recording ended before the pressure had settled';
}

function whyCut({ cycle }: CycleContext): string {
  switch (cycle.ended) {
    case 'burst': return 'the pressure was lost suddenly';
    case 'emptied': return 'the pressure had leaked away';
    case 'gap': return 'the signal was lost';
    case 'vent': return 'the bench was vented early';
    case 'end':
    case null: return 'the recording ended';
  }
}
