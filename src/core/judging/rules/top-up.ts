import type { Finding } from '../../outcome.js';
import { finding, type CycleContext } from '../context.js';
import { bar, rounded, seconds } from '../showing.js';

/** Nothing may be pumped in during the hold, unless the plan allows it. */
export function topUp(c: CycleContext): Finding {
  const { cycle, plan, step } = c;
  const first = cycle.topUps[0];
  const unit = 'strokes';
  if (first === undefined) return finding('top-up', 'met', 'No pressure was added during the hold.', { measured: 0, limit: 0, unit });
  const n = cycle.topUps.length;
  const added = cycle.topUps.reduce((sum, t) => sum + t.rise, 0);
  const lost = cycle.drop === null ? '' : `; without it the loss is ${bar(rounded(cycle.drop, step), step)}`;
  const m = { measured: n, limit: 0, unit, at: first.at };
  const what = `Pressure was added during the hold, ${bar(added, step)} in ${n === 1 ? 'one rise' : `${n} rises`} from ${seconds(first.at)} on${lost}.`;
  return plan.allowTopUp ? finding('top-up', 'met', `${what} The plan allows it.`, m) : finding('top-up', 'undecided', `${what} It may hide a leak.${slowPumping(c, first.at)}`, m);
}

/**
 * The hold begins by itself in a long pause between two strokes; who pumps so slowly has to know why. Where pressure was
 * still added in the second half of the hold, the pump was at work for other reasons.
 */
function slowPumping({ cycle, plan, limits }: CycleContext, at: number): string {
  const last = cycle.topUps[cycle.topUps.length - 1];
  if (cycle.lastPumping === null || cycle.settled === null || last === undefined) return '';
  const pause = at - cycle.lastPumping;
  if (pause >= 2 * limits.quietTime || last.at > cycle.settled + plan.holdTime / 2) return '';
  return ` It came ${seconds(pause)} after the stroke before; if that was still pumping up, pump without pauses of ${seconds(limits.quietTime)} or more, and hold again.`;
}
