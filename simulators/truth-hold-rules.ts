import type { RuleOutcome } from '../src/core/outcome.js';
import { holdFloor, minimumDuringHold, reachLevel } from '../src/core/plan.js';
import { resolve } from '../src/core/quantity.js';
import { grid } from './bench.js';
import { differenceReach, guardBand, leakRateError, medianReach } from './measurement-reach.js';
import type { CycleLog } from './operator.js';
import { against, finding, joined, needed, type Possible } from './possible-outcomes.js';
import { extremes, leakRateAt, meanPressure, type Evidence, type TrueFinding } from './truth.js';

/** Start of hold by the definition, and by its lenient and strict readings; NaN where it would not begin. */
function holdStarts(log: CycleLog): [number, number, number] {
  return [log.settled, log.settledEarly, log.settledLate];
}

export function hold(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding {
  const answer = (start: number, timedOut: boolean): Possible => {
    if (Number.isNaN(start) || timedOut || start >= limit) return ['undecided'];
    const length = limit - start;
    const long = against(length, e.plan.holdTime, 1.5 / e.transducer.rate, 'met', 'undecided');
    const pressure = meanPressure(e, start, 0.1);
    const high = against(pressure, holdFloor(e.plan), medianReach(e, pressure), 'met', 'undecided');
    return needed(long, high);
  };
  if (log.tooLow && extremes(e.bench.calm, log.rising, limit).highest < reachLevel(e.plan)) return finding('hold', ['undecided'], cycle, 0, e.plan.holdTime);
  const [exact, early, late] = holdStarts(log);
  const after = (start: number) => start - log.stopped >= e.limits.settleTimeout - 0.02;
  const answers: [Possible, ...Possible[]] = [answer(exact, after(exact)), answer(early, after(early)), answer(late, after(late))];
  return finding('hold', joined(answers), cycle, Math.max(0, Math.min(e.plan.holdTime, limit - exact)) || 0, e.plan.holdTime);
}

export function minimum(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding[] {
  const least = minimumDuringHold(e.plan);
  if (least === undefined) return [];
  const guard = guardBand(e);
  const answer = (start: number): Possible => {
    if (Number.isNaN(start) || start >= limit) return ['met'];
    const end = Math.min(limit, start + e.plan.holdTime);
    if (meanPressure(e, start, 0.1) < holdFloor(e.plan) - medianReach(e, least)) return ['met'];
    const { breachTime } = e.limits;
    const reach = medianReach(e, least);
    const below = (level: number) => longestBelow(e, level, start, end) > breachTime;
    const truth = below(least);
    if (guard === null) return below(least - reach) === below(least + reach) ? [truth ? 'broken' : 'met'] : [truth ? 'broken' : 'met', truth ? 'met' : 'broken'];
    if (below(least - guard.widest - reach)) return ['broken'];
    if (!below(least + guard.widest + reach)) return ['met'];
    return below(least + guard.narrowest - reach) && !below(least - guard.narrowest + reach) ? ['undecided'] : ['undecided', 'met', 'broken'];
  };
  const [exact, early, late] = holdStarts(log);
  const lowest = Number.isNaN(exact) ? Number.NaN : extremes(e.bench.calm, exact, Math.min(limit, exact + e.plan.holdTime)).lowest;
  return [finding('minimum', joined([answer(exact), answer(early), answer(late)]), cycle, Number.isFinite(lowest) ? lowest : null, least)];
}

/** s of the longest stretch below `level`. */
function longestBelow(e: Evidence, level: number, from: number, to: number): number {
  let longest = 0;
  let since = Number.NaN;
  // Every 10 ms is enough: without pulses nothing moves faster in a hold.
  for (let i = Math.round(from / grid); i < Math.min(e.bench.calm.length, to / grid); i += 10) {
    if ((e.bench.calm[i] ?? 0) >= level) since = Number.NaN;
    else {
      if (Number.isNaN(since)) since = i;
      longest = Math.max(longest, (i - since) * grid);
    }
  }
  return longest;
}

export function drop(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding[] {
  const { maximumDrop, allowTopUp, holdTime } = e.plan;
  if (maximumDrop === undefined) return [];
  const guard = guardBand(e);
  const measured = (start: number) => {
    const end = Math.min(limit, start + holdTime);
    const span = Math.min(1, end - start);
    const first = meanPressure(e, start, span);
    const added = log.topUps.reduce((sum, t) => sum + (t.at > start && t.at < end ? t.after - t.before : 0), 0);
    const net = first - meanPressure(e, end - span, span);
    return { first, net, added };
  };
  const answer = (start: number): Possible => {
    if (Number.isNaN(start) || start >= limit) return ['met'];
    const { first, net, added } = measured(start);
    if (first < holdFloor(e.plan) - medianReach(e, first)) return ['met'];
    const most = resolve(maximumDrop, first);
    const value = allowTopUp ? net + added : net;
    const reach = differenceReach(e, value);
    if (guard === null) {
      const plain = against(value, most, reach, 'broken', 'met');
      // A forbidden top-up leaves the run undecided; whoever adds its rise may find the drop broken instead.
      return !allowTopUp && added > 0 && net + added > most - reach ? [...plain, 'broken'] : plain;
    }
    if (value > most + guard.widest + reach) return ['broken'];
    if (value < most - guard.widest - reach) return ['met'];
    return Math.abs(value - most) + reach < guard.narrowest ? ['undecided'] : ['undecided', 'met', 'broken'];
  };
  const [exact, early, late] = holdStarts(log);
  const { first, net, added } = Number.isNaN(exact) || exact >= limit ? { first: Number.NaN, net: Number.NaN, added: 0 } : measured(exact);
  const value = allowTopUp ? net + added : net;
  return [finding('drop', joined([answer(exact), answer(early), answer(late)]), cycle, Number.isFinite(value) ? value : null, Number.isFinite(first) ? resolve(maximumDrop, first) : null)];
}

export function leak(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding[] {
  const { leakLimit, holdTime } = e.plan;
  if (leakLimit === undefined) return [];
  const start = log.settled;
  if (Number.isNaN(start) || start >= limit) return [finding('leak', ['undecided', 'met', 'broken'], cycle, null, leakLimit)];
  const end = Math.min(limit, start + holdTime);
  const mid = (start + end) / 2;
  const rate = leakRateAt(e, mid);
  const slope = (meanPressure(e, mid - 0.5, 0.1) - meanPressure(e, mid + 0.4, 0.1)) * (60 / 0.9);
  // Settling that has not died away cannot be told from a leak to better than a share of itself.
  const reach = 0.12 * leakLimit + leakRateError(e, log.stopped, start, end) + 0.4 * Math.abs(slope - rate);
  const begins = e.bench.leakAt.some((at) => at > log.stopped + 1 && at < end);
  const changing = begins || log.topUps.length > 0 || end - start < holdTime - 0.01;
  const truth: RuleOutcome = rate > leakLimit ? 'broken' : 'met';
  if (changing) return [finding('leak', rate === 0 && !begins ? ['met', 'undecided'] : [truth, 'met', 'undecided', 'broken'], cycle, rate, leakLimit)];
  const possible: Possible = Math.abs(rate - leakLimit) > reach ? [truth] : [truth, 'undecided', 'broken', 'met'];
  return [finding('leak', possible, cycle, rate, leakLimit)];
}

export function topUp(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding {
  if (e.plan.allowTopUp) return finding('top-up', ['met'], cycle, log.topUps.length, null);
  const answers = log.topUps
    .filter((t) => t.at > log.settled && t.at < Math.min(limit, log.settled + e.plan.holdTime))
    .map((t): Possible => {
      const rise = t.after - t.before;
      const inEveryHold = t.at > log.settledLate + 1 && t.at < log.settledEarly + e.plan.holdTime - 1;
      const big = against(rise, e.limits.topUpHeight, Math.max(0.5 * e.limits.topUpHeight, differenceReach(e, rise)), 'undecided', 'met');
      return inEveryHold ? big : ['undecided', 'met'];
    });
  const sure = answers.find((a) => a.length === 1 && a[0] === 'undecided');
  const [first, ...rest] = answers;
  return finding('top-up', sure ?? (first === undefined ? ['met'] : joined([first, ...rest])), cycle, log.topUps.length, 0);
}
