import type { Finding } from '../../outcome.js';
import { finding, type CycleContext } from '../context.js';
import { figures, seconds } from '../showing.js';

/** Rounds to two figures of the half width of the interval, and never to more than five digits behind the point. */
const likeHalf = (half: number) => (value: number): number =>
  Number(value.toFixed(Math.min(5, Math.max(0, 1 - Math.floor(Math.log10(Math.max(half, 1e-9)))))));

/** The steady loss, told apart from settling, must surely be below the limit. */
export function leak(c: CycleContext): Finding | null {
  const { plan, cycle } = c;
  if (plan.leakLimit === undefined) return null;
  const limit = figures(plan.leakLimit);
  const unit = 'bar/min';
  if (c.leak === null) return finding('leak', 'undecided', 'Too little of a hold was seen to tell a leak from settling.', { limit, unit });
  const rate = figures(c.leak.rate);
  // Where the curve does not follow the pressure well, the rate is trusted half as far.
  const doubt = c.leak.poorFit ? 2 : 1;
  const half = figures(doubt * 1.96 * c.leak.standardError);
  const shown = likeHalf(half);
  const lowest = shown(c.leak.rate - doubt * (c.leak.rate - c.leak.lowest));
  const highest = shown(c.leak.rate + doubt * (c.leak.highest - c.leak.rate));
  const even = Math.abs(highest + lowest - 2 * c.leak.rate) < 0.1 * half;
  // Of an uneven interval the side that faces the limit is the one that decides.
  const uncertainty = even ? half : figures(rate <= limit ? highest - rate : rate - lowest);
  const m = { measured: rate, limit, unit, uncertainty, at: c.leak.startedAt ?? cycle.settled };
  const since = c.leak.startedAt === null ? '' : ` It began at ${seconds(c.leak.startedAt)}.`;
  const stated = even
    ? `The steady loss is ${rate} bar/min, give or take ${half} bar/min`
    : `The steady loss is ${rate} bar/min, and lies between ${highest < 0 ? lowest : Math.max(0, lowest)} bar/min and ${highest} bar/min${c.leak.slow ? ', because a slow settling may be part of it' : ''}`;
  if (lowest > limit + 1e-9) {
    return finding('leak', 'broken', `${stated}; at most ${limit} bar/min is allowed: this is a leak, not settling.${since}`, m);
  }
  if (highest > limit + 1e-9) {
    return finding('leak', 'undecided', `${stated}; the limit of ${limit} bar/min lies within that. A longer hold would decide it.${since}`, m);
  }
  if (!cycle.holdDone) return finding('leak', 'undecided', `${stated}, but the hold was not seen to its end.`, m);
  return finding('leak', 'met', `${stated}; the limit is ${limit} bar/min.`, m);
}
