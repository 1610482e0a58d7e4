import type { Finding } from '../../outcome.js';
import { finding, type CycleContext } from '../context.js';
import { figures, seconds } from '../showing.js';

/** The steady loss, told apart from settling, must surely be below the limit. */
export function leak(c: CycleContext): Finding | null {
  const { plan, cycle } = c;
  if (plan.leakLimit === undefined) return null;
  const limit = figures(plan.leakLimit);
  const unit = 'bar/min';
  if (c.leak === null) return finding('leak', 'undecided', 'Too little of a hold was seen to tell a leak from settling.', { limit, unit });
  const rate = figures(c.leak.rate);
  // Where the curve does not follow the pressure well, the rate is trusted half as far.
  const half = figures((c.leak.poorFit ? 2 : 1) * 1.96 * c.leak.standardError);
  const m = { measured: rate, limit, unit, uncertainty: half, at: c.leak.startedAt ?? cycle.settled };
  const since = c.leak.startedAt === null ? '' : ` It began at ${seconds(c.leak.startedAt)}.`;
  const stated = `The steady loss is ${rate} bar/min, give or take ${half}`;
  if (rate - half > limit + 1e-9) {
    return finding('leak', 'broken', `${stated}; at most ${limit} bar/min is allowed: this is a leak, not settling.${since}`, m);
  }
  if (rate + half > limit + 1e-9) {
    return finding('leak', 'undecided', `${stated}; the limit of ${limit} bar/min lies within that. A longer hold would decide it.${since}`, m);
  }
  if (!cycle.holdDone) return finding('leak', 'undecided', `${stated}, but the hold was not seen to its end.`, m);
  return finding('leak', 'met', `${stated}; the limit is ${limit} bar/min.`, m);
}
