import type { LiveView, Phase } from '../live.js';
import { bar, rounded } from '../judging/showing.js';
import type { FoundEvent } from '../outcome.js';
import { holdFloor, minimumDuringHold, reachLevel, type Plan } from '../plan.js';
import { resolve } from '../quantity.js';
import type { ReadingLimits } from '../thresholds.js';
import type { TrackerState } from './tracker-state.js';
import { slopeBetween } from './slots.js';

/** What the view is made from. Times on the reader's clock; `origin` carries them to the trace's. */
export interface Moment {
  readonly plan: Plan;
  readonly planned: boolean;
  readonly limits: ReadingLimits;
  readonly tracker: TrackerState;
  readonly origin: number;
  readonly time: number | null;
  readonly pressure: number | null;
  readonly verdict: LiveView['verdict'];
  readonly cycle: number;
  readonly events: readonly FoundEvent[];
  readonly step: number;
}

/** The present moment in words and numbers. */
export function describeNow(m: Moment): LiveView {
  const { tracker: t, plan } = m;
  const outside = (time: number) => Number((m.origin + time).toFixed(6));
  const now = m.time ?? 0;
  const holding = t.phase === 'holding' && t.hold.from > 0;
  const phase: Phase = t.phase;
  const line = m.time === null ? undefined : slopeBetween(t.slots, now - m.limits.settleWindow, now);
  return {
    time: m.time === null ? null : outside(m.time),
    pressure: m.pressure,
    phase,
    phaseSince: m.time === null ? null : outside(t.phaseSince),
    sentence: sentenceOf(m, now),
    deciding: deciding(m, now),
    verdict: m.verdict,
    holdLeft: holding ? Math.max(0, t.hold.done ? 0 : t.hold.from + plan.holdTime - now) : null,
    holdSince: holding ? outside(t.hold.from) : null,
    cycle: m.cycle,
    cycles: plan.cycles,
    peak: t.phase === 'vented' ? null : t.record.peak,
    slope: line?.slope ?? null,
    strokes: t.phase === 'vented' ? 0 : t.record.strokes,
    events: m.events,
  };
}

const clock = (seconds: number): string => {
  const s = Math.ceil(Math.max(0, seconds) - 1e-9);
  return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, '0')}`;
};

function sentenceOf(m: Moment, now: number): string {
  const { tracker: t, plan, limits, step } = m;
  if (m.time === null) return 'no reading yet';
  if (m.pressure === null) return 'the reading cannot be trusted';
  const below = reachLevel(plan) - m.pressure;
  switch (t.phase) {
    case 'vented': return 'vented';
    case 'rising': {
      if (!m.planned) return 'rising';
      if (!t.record.arrived) return below > 0 ? `rising, ${bar(below, step)} below the band` : 'rising, entering the band';
      const quiet = limits.quietTime - (now - t.lastActivity);
      return below > 0 ? `pumped up, but now ${bar(below, step)} below the band` : `in the band, ${clock(quiet)} without a stroke until settling is watched`;
    }
    case 'settling':
      return t.record.settledBelow === null
        ? 'settling: waiting for the pressure to come to rest'
        : `settled too low: ${bar(holdFloor(plan), step)} is needed, pump again`;
    case 'holding': {
      if (t.hold.done) return 'hold complete, vent when ready';
      const least = minimumDuringHold(plan);
      const left = `holding, ${clock(t.hold.from + plan.holdTime - now)} left`;
      return least === undefined ? left : `${left} if it stays above ${bar(least, step)}`;
    }
    case 'venting': return t.record.burst === null ? 'venting' : 'pressure lost suddenly';
  }
}

/** s after a vent from which on a reading that is off is told. */
const told = 3;

/** A run that is over but for its vented reading, which is off: what is to be done, and until when; `null` where that is not so. */
function zeroAwaited({ tracker: t, limits, pressure, step }: Moment, now: number): string | null {
  const resting = t.attempt && t.letDown.watched && !Number.isNaN(t.letDown.level);
  const cycle = resting ? t.record : t.attempt ? null : t.awaiting;
  const since = resting ? t.letDown.since : t.awaitingSince;
  if (cycle === null || cycle.burst !== null || pressure === null || now - since < told || Math.abs(pressure) <= limits.zeroLimit) return null;
  return `The reading stays at ${bar(pressure, step)}${pressure > 0 ? ': open the vent fully' : ''}. It cannot pass unless the reading comes within ${bar(limits.zeroLimit, step)} of zero in the next ${clock(limits.runEnd - (now - since))}.`;
}

/** What would decide the verdict, the most urgent first. */
function deciding(m: Moment, now: number): string[] {
  const { tracker: t, plan, limits, step } = m;
  if (!m.planned) return ['There is no plan, so the run will be measured but not judged.'];
  if (m.time === null) return [];
  const awaited = zeroAwaited(m, now);
  if (awaited !== null) return [awaited];
  if (t.phase === 'vented') return [];
  const r = t.record;
  const says: string[] = [];
  // Near a limit a guarded rule leaves it undecided; how near is known when the run is judged.
  const fails = plan.decisionRule === 'guarded' ? 'It may fail' : 'It failed';
  if (r.burst !== null) says.push(`It failed: the pressure fell suddenly from ${bar(r.burst.pressure, step)}.`);
  if (plan.ceilingPressure !== undefined && r.peak !== null && rounded(r.peak, step) > plan.ceilingPressure + 1e-9) {
    says.push(`It failed: ${bar(r.peak, step)} is above the ceiling of ${bar(plan.ceilingPressure, step)}.`);
  }
  if (r.breachAt !== null) says.push(`${fails}: the pressure stayed below the minimum.`);
  if (r.gaps.length > 0) says.push('It cannot pass: part of the signal was lost.');
  if (r.topUps.length > 0 && !plan.allowTopUp) says.push('It cannot pass: pressure was added during the hold.');
  const h = t.hold;
  if (t.phase === 'holding' && !h.done) {
    if (plan.maximumDrop !== undefined && !Number.isNaN(h.start)) {
      // As the rule has it: both ends are shown, so the loss is the difference of the shown values.
      const limit = rounded(resolve(plan.maximumDrop, h.start), step);
      const lost = Number.isNaN(h.lowestWithout) ? 0 : rounded(Math.max(0, rounded(h.start, step) - rounded(h.lowestWithout, step)), step);
      says.push(lost > limit + 1e-9
        ? `${fails}: ${bar(lost, step)} lost, at most ${bar(limit, step)} is allowed.`
        : `${bar(lost, step)} lost of ${bar(limit, step)} allowed.`);
    }
    if (plan.leakLimit !== undefined) says.push(`The leak is told from settling when the hold is over; the limit is ${plan.leakLimit} bar/min.`);
    says.push(`It fails if the pressure is lost; it stays undecided if the bench is vented in the next ${clock(h.from + plan.holdTime - now)}.`);
  } else if (t.phase === 'rising' && !r.arrived) {
    says.push(`The hold needs ${bar(reachLevel(plan), step)}.`);
    if (plan.ceilingPressure !== undefined) says.push(`It fails above ${bar(plan.ceilingPressure, step)}.`);
  } else if (t.phase === 'rising' || t.phase === 'settling') {
    says.push(`The hold begins when no stroke has come for ${limits.quietTime} s and the pressure has come to rest.`);
  }
  return says;
}
