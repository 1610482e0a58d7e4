import { verdictOf, type Cycle, type Finding, type FoundEvent, type Outcome, type Rule, type RuleOutcome } from '../outcome.js';
import type { CycleRecord } from '../reading/cycle-record.js';
import { leakOfCycle, type CycleLeak } from './leak-of-cycle.js';
import type { CycleContext, RunContext } from './context.js';
import { finding } from './context.js';
import { bar, rounded } from './showing.js';
import { trappedAir } from './trapped-air.js';
import { complianceOf } from './compliance.js';
import { burst } from './rules/burst.js';
import { ceiling } from './rules/ceiling.js';
import { cycles as cyclesRule } from './rules/cycles.js';
import { drop } from './rules/drop.js';
import { hold } from './rules/hold.js';
import { leak } from './rules/leak.js';
import { lid } from './rules/lid.js';
import { minimum } from './rules/minimum.js';
import { reach } from './rules/reach.js';
import { rise } from './rules/rise.js';
import { signal } from './rules/signal.js';
import { topUp } from './rules/top-up.js';
import { assumedNote, uncertaintyAssumed } from './uncertainty.js';

const cycleRules: readonly ((c: CycleContext) => Finding | null)[] = [reach, ceiling, rise, hold, minimum, drop, leak, topUp, burst];

/** Rules that rest on the reading being in the unit it claims. */
const pressureRules: readonly Rule[] = ['reach', 'ceiling', 'rise', 'minimum', 'drop', 'leak', 'burst'];

/** Applies every rule of the plan to what was read of a run. */
export function judgeRun(
  c: RunContext, events: readonly FoundEvent[], signalFacts: Outcome['signal'], notes: readonly string[], planName: string | null, thresholds: string,
): Outcome {
  const leaks = c.cycles.map((cycle) => leakOfCycle(cycle, c.resolution ?? 0, c.origin, practicalGrowth(c)));
  const perCycle = c.cycles.map((cycle, i) => {
    const context: CycleContext = { ...c, cycle, leak: leaks[i] ?? null };
    return cycleRules.map((rule) => rule(context)).filter((f): f is Finding => f !== null).map((f) => believable(f, c));
  });
  const findings = [...worstPerRule(perCycle), cyclesRule(c), signal(c), lid(c)].filter((f): f is Finding => f !== null);
  if (planName === null) findings.unshift(noPlan());
  return {
    verdict: planName === null ? 'inconclusive' : verdictOf(findings.map((f) => f.outcome)),
    findings: planName === null ? findings.filter((f) => f.rule === 'data') : findings,
    cycles: c.cycles.map((cycle, i) => shownCycle(c, cycle, leaks[i] ?? null, perCycle[i] ?? [])),
    events,
    notes: [...notes, ...(uncertaintyAssumed(c) ? [assumedNote] : []), ...notesOf(c, leaks)],
    signal: signalFacts,
    plan: planName,
    thresholds,
  };
}

/** bar/min: a fifth of the leak limit, or a sixth of the slope at which the pressure counts as settled. */
const practicalGrowth = (c: RunContext): number =>
  c.plan.leakLimit === undefined ? 10 * c.limits.settleSlope : Math.min(0.2 * c.plan.leakLimit, 10 * c.limits.settleSlope);

const noPlan = (): Finding => finding('data', 'undecided', 'No plan was given: the run was recorded and measured, but there is nothing to judge it by.', { unit: '' });

/** A broken limit proves nothing while the unit itself is in doubt. */
function believable(f: Finding, c: RunContext): Finding {
  if (c.suspectedUnit === null || f.outcome !== 'broken' || !pressureRules.includes(f.rule)) return f;
  return { ...f, outcome: 'undecided', sentence: `${f.sentence} But the unit of the readings is in doubt.` };
}

const gravity: Readonly<Record<RuleOutcome, number>> = { broken: 2, undecided: 1, met: 0 };

/** One finding a rule: that of the cycle where it went worst, the earliest of equals. */
function worstPerRule(perCycle: readonly (readonly Finding[])[]): Finding[] {
  const worst = new Map<Rule, Finding>();
  perCycle.forEach((findings, i) => {
    for (const f of findings) {
      const known = worst.get(f.rule);
      if (known !== undefined && gravity[known.outcome] >= gravity[f.outcome]) continue;
      worst.set(f.rule, perCycle.length > 1 ? { ...f, cycle: i + 1, sentence: `Cycle ${i + 1}: ${f.sentence}` } : f);
    }
  });
  return [...worst.values()];
}

function shownCycle(c: RunContext, r: CycleRecord, leakFound: CycleLeak | null, findings: readonly Finding[]): Cycle {
  const p = (value: number | null) => (value === null ? null : rounded(value, c.step));
  const t = (value: number | null) => (value === null ? null : Number(value.toFixed(6)));
  const start = p(r.holdStart);
  const lowest = p(r.holdMinimum);
  const lost = r.topUps.length > 0 ? p(r.drop) : start === null || lowest === null ? null : rounded(Math.max(0, start - lowest), c.step);
  return {
    rising: t(r.rising),
    reached: t(r.reached),
    settled: t(r.settled),
    holdEnd: t(r.holdEnd),
    vented: t(r.vented),
    peak: p(r.peak),
    holdStartPressure: start,
    holdMinimum: lowest,
    drop: lost,
    dropPercent: lost === null || start === null || start <= 0 ? null : Number(((100 * lost) / start).toPrecision(4)),
    strokes: r.strokes,
    topUps: r.topUps.length,
    leak: leakFound === null ? null : {
      rate: significant(leakFound.rate),
      standardError: significant(leakFound.standardError),
      lowest: significant(leakFound.lowest),
      highest: significant(leakFound.highest),
      settling: significant(leakFound.settling),
      timeConstant: significant(leakFound.timeConstant),
      ...volumeRate(c, r, leakFound),
      ...(leakFound.startedAt === null ? {} : { startedAt: Number(leakFound.startedAt.toFixed(3)) }),
    },
    verdict: verdictOf(findings.map((f) => f.outcome)),
  };
}

/** ml/min, where the compliance of the bench is known. */
function volumeRate(c: RunContext, r: CycleRecord, leakFound: CycleLeak): { volumeRate?: number } {
  const compliance = complianceOf(c.instrument, r);
  return compliance === null ? {} : { volumeRate: significant(leakFound.rate * compliance) };
}

const significant = (value: number): number => Number(value.toPrecision(6));

function notesOf(c: RunContext, leaks: readonly (CycleLeak | null)[]): string[] {
  const notes: string[] = [];
  if (c.interval > c.limits.spikeWidth / 2) {
    notes.push(`Spikes cannot be assessed at one reading every ${Number(c.interval.toPrecision(3))} s: what lasts less than ${Number((2 * c.interval).toPrecision(3))} s may be missed.`);
  }
  if (c.interval > 0.1) notes.push(`Pump strokes closer together than about ${Number((4 * c.interval).toPrecision(2))} s cannot be counted at this sample rate.`);
  for (const r of c.cycles) {
    if (r.stepBack !== null && r.holdDone && r.lastPumping !== null && Math.abs(r.stepBack.at - r.lastPumping) < 2) {
      notes.push(`The pressure fell ${bar(r.stepBack.height, c.step)} right after the last stroke and then stayed: look at the pump's outlet valve or the isolating valve.`);
    }
    const air = trappedAir(r, c.plan.testPressure);
    if (air !== null) {
      notes.push(`The first strokes lifted the pressure less than the later ones: about ${Number((100 * air.share).toPrecision(1))} % of the volume is trapped air. Vent and purge again; compressed air stores energy that water does not.`);
    }
    if (r.startsPressurised) notes.push('The recording began under pressure; what came before was not seen.');
    if (r.ended === 'end' && r.holdDone) notes.push('The recording ended before the vent: the vented reading was not checked afterwards.');
  }
  const drifting = leaks.map((l) => l?.rate).filter((rate): rate is number => rate !== undefined);
  if (drifting.length > 1) {
    const first = drifting[0] as number, last = drifting[drifting.length - 1] as number;
    notes.push(`From the first to the last cycle the steady loss went from ${first.toFixed(2)} to ${last.toFixed(2)} bar/min.`);
  }
  return notes;
}
