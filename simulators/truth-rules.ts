import { reachLevel } from '../src/core/plan.js';
import { grid } from './bench.js';
import { maximumReach } from './measurement-reach.js';
import type { CycleLog } from './operator.js';
import { against, finding, joined, type Possible } from './possible-outcomes.js';
import { drop, hold, leak, minimum, topUp } from './truth-hold-rules.js';
import { burstOf, cycleLimit, extremes, meanPressure, type Evidence, type TrueFinding } from './truth.js';

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
