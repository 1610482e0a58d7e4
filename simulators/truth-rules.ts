import type { Rule, RuleOutcome } from '../src/core/outcome.js';
import { holdFloor, minimumDuringHold, reachLevel } from '../src/core/plan.js';
import { resolve } from '../src/core/quantity.js';
import { grid } from './bench.js';
import { differenceReach, guardBand, leakRateError, maximumReach, medianReach } from './measurement-reach.js';
import type { CycleLog } from './operator.js';
import { burstOf, cycleLimit, extremes, leakRateAt, meanPressure, type Evidence, type TrueFinding } from './truth.js';

type Possible = readonly [RuleOutcome, ...RuleOutcome[]];

/** The first of `possible` is the truth. */
const finding = (rule: Rule, possible: Possible, cycle: number, measured: number | null = null, limit: number | null = null): TrueFinding => ({
  rule, outcome: possible[0], possible: [...new Set(possible)], cycle, measured, limit,
});

/** Upper limit with a measurement reach: the truth first, then what else could be found. */
function against(value: number, limit: number, reach: number, over: RuleOutcome, under: RuleOutcome): Possible {
  const truth = value > limit ? over : under;
  return Math.abs(value - limit) > reach ? [truth] : [truth, truth === over ? under : over];
}

/** Several answers to the same question: the first stays the truth, all others are possible. */
const joined = (answers: readonly [Possible, ...Possible[]]): Possible => [answers[0][0], ...answers.flat()];

/** Two conditions that must both be met. */
function needed(one: Possible, other: Possible): Possible {
  if (one.every((o) => o === 'undecided') || other.every((o) => o === 'undecided')) return ['undecided'];
  return [one[0] === 'undecided' || other[0] === 'undecided' ? 'undecided' : 'met', ...one, ...other];
}

/** The rules that look at one cycle. `number` counts from 1. */
export function cycleFindings(e: Evidence, log: CycleLog, number: number): TrueFinding[] {
  const limit = cycleLimit(e, log);
  return [
    reach(e, log, limit, number),
    ...ceiling(e, log, limit, number),
    ...rise(e, log, limit, number),
    hold(e, log, limit, number),
    ...minimum(e, log, limit, number),
    ...drop(e, log, limit, number),
    ...leak(e, log, limit, number),
    topUp(e, log, limit, number),
    burst(e, log, number),
    data(e, log, limit, number),
  ];
}

/** The rules that look at the whole run. */
export function runFindings(e: Evidence, logs: readonly CycleLog[]): TrueFinding[] {
  const full = logs.filter((log) => log.settled + e.plan.holdTime <= cycleLimit(e, log) && !log.tooLow).length;
  const cycles = finding('cycles', [full < e.plan.cycles ? 'undecided' : 'met'], Math.max(1, logs.length), full, e.plan.cycles);
  // The rest of an earlier run at the begin of a recording may be told as a run of its own, or left out.
  const beginsPressurised = meanPressure(e, e.from, 0.1) > e.limits.ventPressure;
  return beginsPressurised ? [cycles, finding('data', ['met', 'undecided'], 1)] : [cycles];
}

function reach(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding {
  const peak = extremes(e.bench.calm, log.rising, limit).highest;
  return finding('reach', against(peak, reachLevel(e.plan), maximumReach(e, peak), 'met', 'undecided'), cycle, peak, reachLevel(e.plan));
}

function ceiling(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding[] {
  const { ceilingPressure } = e.plan;
  if (ceilingPressure === undefined) return [];
  const top = extremes(e.bench.pressure, log.rising, limit);
  const answers: [Possible, ...Possible[]] = [against(top.highest, ceilingPressure, maximumReach(e, top.highest), 'broken', 'met')];
  if (top.highest > ceilingPressure) {
    // What the samples show of it: a pulse between two samples, or smaller than noise there, cannot be known.
    const shown = highestSample(e, top.highestAt - 0.5, top.highestAt + 0.5);
    answers.push(against(shown, ceilingPressure, maximumReach(e, shown), 'broken', 'met'));
    const pulse = e.bench.hammers.find((h) => Math.abs(h.at - top.highestAt) < h.width);
    if (pulse !== undefined && (pulse.width < 2 * e.limits.glitchWidth || pulse.width * e.transducer.rate < 5)) answers.push(['broken', 'met', 'undecided']);
  }
  for (const fault of e.recording.faults) {
    const height = fault.height + meanPressure(e, fault.at + e.from, 0.01);
    const inCycle = fault.at + e.from > log.rising && fault.at + e.from < limit;
    if (fault.kind === 'glitch' && inCycle && height > ceilingPressure - maximumReach(e, height) && !isPlainGlitch(e, fault.height, fault.width)) {
      answers.push([answers[0][0], 'broken', 'undecided']);
    }
  }
  return [finding('ceiling', joined(answers), cycle, top.highest, ceilingPressure)];
}

/** Too quick for water by the thresholds: its edges beat the slew limit, or it is gone within the glitch width. */
function isPlainGlitch(e: Evidence, height: number, width: number): boolean {
  const interval = 1 / e.transducer.rate;
  return Math.abs(height) * 0.85 > 1.3 * e.limits.slewLimit * interval || width + 2 * interval < 0.9 * e.limits.glitchWidth;
}

function highestSample(e: Evidence, from: number, to: number): number {
  let highest = Number.NEGATIVE_INFINITY;
  const { time, clean } = e.recording;
  for (let i = 0; i < time.length; i++) {
    const t = (time[i] ?? 0) + e.from;
    if (t >= from && t <= to) highest = Math.max(highest, clean[i] ?? highest);
  }
  return highest;
}

function rise(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding[] {
  const { riseRate, testPressure } = e.plan;
  if (riseRate === undefined) return [];
  const whole = (meanBetween(e, log, 0.1 * testPressure, 0.9 * testPressure, limit));
  const quickest = quickestSecond(e, log.rising, Math.min(limit, log.stopped));
  const answers: Possible[] = [];
  if (riseRate.maximum !== undefined) {
    answers.push(against(whole, riseRate.maximum, 0.1 * riseRate.maximum, 'broken', 'met'));
    answers.push(against(quickest, riseRate.maximum, 0.1 * riseRate.maximum, 'broken', 'met'));
  }
  if (riseRate.minimum !== undefined) answers.push(against(riseRate.minimum, whole, 0.15 * riseRate.minimum, 'broken', 'met'));
  const worst = answers.sort((a, b) => Number(b[0] === 'broken') - Number(a[0] === 'broken'));
  const [first, ...rest] = worst;
  return first === undefined ? [] : [finding('rise', joined([first, ...rest]), cycle, whole, riseRate.maximum ?? riseRate.minimum ?? null)];
}

/** bar/s from the first time at `low` to the first time at `high` (or as far as it came). */
function meanBetween(e: Evidence, log: CycleLog, low: number, high: number, limit: number): number {
  let from = Number.NaN;
  for (let t = log.rising; t < limit; t += grid) {
    const p = e.bench.calm[Math.round(t / grid)] ?? 0;
    if (Number.isNaN(from) && p >= low) from = t;
    if (p >= high) return (high - low) / Math.max(grid, t - from);
  }
  return Number.NaN;
}

function quickestSecond(e: Evidence, from: number, to: number): number {
  let quickest = 0;
  const second = Math.round(1 / grid);
  for (let i = Math.round(from / grid); i + second < to / grid; i += 10) {
    quickest = Math.max(quickest, (e.bench.calm[i + second] ?? 0) - (e.bench.calm[i] ?? 0));
  }
  return quickest;
}

/** Start of hold by the definition, and by its lenient and strict readings; NaN where it would not begin. */
function holdStarts(log: CycleLog): [number, number, number] {
  return [log.settled, log.settledEarly, log.settledLate];
}

function hold(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding {
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

function minimum(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding[] {
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

function drop(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding[] {
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

function leak(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding[] {
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

function topUp(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding {
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

function burst(e: Evidence, log: CycleLog, cycle: number): TrueFinding {
  const at = burstOf(e, log);
  const over = log.settled + e.plan.holdTime;
  if (Number.isNaN(at) || at > Math.max(over, log.settledLate + e.plan.holdTime)) return finding('burst', ['met'], cycle);
  const before = e.bench.calm[Math.round(at / grid)] ?? 0;
  const after = e.bench.calm[Math.round((at + e.limits.burstTime) / grid)] ?? 0;
  const share = (before - after) / before;
  const seen = e.limits.burstTime * e.transducer.rate >= 4 && share > 1.3 * e.limits.burstFraction && before > 1.2 * e.limits.attemptPressure;
  const early = Number.isNaN(over) || at < Math.min(over, log.settledEarly + e.plan.holdTime) - 0.5;
  return finding('burst', seen && early ? ['broken'] : ['broken', 'undecided', 'met'], cycle, share, e.limits.burstFraction);
}

function data(e: Evidence, log: CycleLog, limit: number, cycle: number): TrueFinding {
  const { gap, flatlineTime, zeroLimit } = e.limits;
  const holdEnd = Math.min(limit, (Number.isNaN(log.settledLate) ? log.settled : Math.max(log.settled, log.settledLate)) + e.plan.holdTime);
  const until = Number.isNaN(holdEnd) ? limit : holdEnd;
  const answers: Possible[] = [['met']];
  if (e.transducer.unitFactor !== 1) answers.push(['undecided']);
  const saturatedAt = e.recording.saturatedAt + e.from;
  if (saturatedAt > log.rising && saturatedAt < until) answers.push(e.recording.saturated > 5 ? ['undecided'] : ['met', 'undecided']);
  if (Math.abs(e.transducer.zeroError) > 0.6 * zeroLimit) answers.push(Math.abs(e.transducer.zeroError) > 1.4 * zeroLimit ? ['undecided'] : ['undecided', 'met']);
  for (const fault of e.recording.faults) {
    const from = fault.at + e.from;
    const to = from + fault.width;
    const overlap = Math.min(to, until) - Math.max(from, log.stopped);
    const duringRise = from < log.stopped && to > log.rising;
    switch (fault.kind) {
      case 'glitch':
        break;
      case 'zero-shift': {
        const size = Math.abs(fault.height);
        answers.push(size > 1.4 * zeroLimit ? ['undecided'] : size > 0.6 * zeroLimit ? ['undecided', 'met'] : ['met']);
        break;
      }
      case 'gap':
      case 'loop-fault': {
        const least = Math.max(gap, 3 / e.transducer.rate);
        if (overlap > 1.3 * least && from > log.stopped + 0.5 && to < until - 0.5) answers.push(['undecided']);
        else if (overlap > 0 || duringRise) answers.push(['undecided', 'met']);
        break;
      }
      case 'frozen':
      case 'shut-valve':
        if (overlap > 0 && Math.min(to, e.to) - from > 1.4 * flatlineTime) answers.push(['undecided']);
        else if (overlap > 0 || duringRise) answers.push(['undecided', 'met']);
        break;
    }
  }
  const sure = answers.find((a) => a.length === 1 && a[0] === 'undecided');
  const doubtful = answers.find((a) => a.length > 1);
  return finding('data', sure ?? doubtful ?? ['met'], cycle);
}
