import { holdFloor, minimumDuringHold, reachLevel, type Plan } from '../core/plan.js';
import type { BenchFeed } from '../server/bench-feed.js';
import type { PlanLines, WireRun, WireSetup, WireView } from './live-protocol.js';

/** The plan as pages draw and say it. */
export const planLines = (plan: Plan): PlanLines => ({
  name: plan.plan,
  testPressure: plan.testPressure,
  reach: reachLevel(plan),
  holdFloor: holdFloor(plan),
  ceiling: plan.ceilingPressure ?? null,
  minimum: minimumDuringHold(plan) ?? null,
  holdTime: plan.holdTime,
  cycles: plan.cycles,
});

/** A bench's setup as pages get it. */
export function wireSetup(feed: BenchFeed): WireSetup {
  const { plan, thresholds, gap, resolution } = feed.setup();
  return { plan: plan === null ? null : planLines(plan), thresholds, gap, resolution, anchor: feed.anchor() };
}

/** A bench's state as pages get it. */
export function wireView(feed: BenchFeed): WireView {
  const view = feed.view();
  return {
    time: view.time,
    pressure: view.pressure,
    phase: view.phase,
    phaseSince: view.phaseSince,
    sentence: view.sentence,
    deciding: view.deciding,
    verdict: view.verdict,
    holdLeft: view.holdLeft,
    holdSince: view.holdSince,
    cycle: view.cycle,
    cycles: view.cycles,
    peak: view.peak,
    slope: view.slope,
    strokes: view.strokes,
    runSince: feed.runSince(),
  };
}

/** The newest finished runs as pages get them. */
export function wireRuns(feed: BenchFeed, limit: number): WireRun[] {
  return feed.recentRuns(limit).map(({ id, session, from, to, wall, verdict, plan, reasons, peak, holds, visual }) => ({
    id, session, from, to, wall, verdict, plan, reasons, peak, holds, visual,
  }));
}
