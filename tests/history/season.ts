import type { Cycle, Outcome, Verdict } from '../../src/core/outcome.js';
import { parsePlan } from '../../src/core/plan.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import type { Job } from '../../src/records/job.js';
import type { Store } from '../../src/records/store.js';

export const bench = 'bench 1';
export const hose = 'two-wire DN12';
/** ms since 1970, the first run; they follow each other by an hour. */
export const begun = Date.UTC(2027, 2, 1, 7);
const hour = 3600;

const plan = parsePlan(
  { plan: 'two-wire DN12 proof', testPressure: '550 bar', holdTime: '10 s', minimumPressure: '530 bar', ceilingPressure: '600 bar', leakLimit: '6 bar/min' },
  'plan',
);

export interface SeasonRun {
  readonly verdict?: Verdict;
  /** bar/min */
  readonly leak?: number | null;
  readonly job?: Job;
  /** s, length of the hold. */
  readonly hold?: number;
  /** A spike of 45 bar, a single reading wide, so many s into the hold. */
  readonly spikeAt?: number;
  readonly seen?: 'no leakage seen' | 'leakage seen';
}

/** Scatter of the kind that a leak rate has, always the same. */
export const scatter = (i: number): number => (((i * 7919) % 101) / 101 - 0.5) * 0.6;

/** A season of a shop: the leak rate is steady for 30 runs, then rises a little with each, as a worn die would have it. */
export const season = (count: number): SeasonRun[] =>
  Array.from({ length: count }, (_, i) => ({
    leak: 0.8 + scatter(i) + Math.max(i - 29, 0) * 0.08,
    job: { order: `A-${100 + i}`, customer: 'Example Farm', hose, operator: 'J. Doe', assemblies: [`H-${i}`] },
    seen: 'no leakage seen' as const,
  }));

/** Records runs with a trace at 10 readings a second. @returns their numbers */
export function recordSeason(store: Store, runs: readonly SeasonRun[], from = 100): number[] {
  // A test needs no record to outlive a power cut.
  store.db.pragma('synchronous = OFF');
  const channel = store.channel(bench, 'pressure', 'bar').id;
  const hash = store.keepVersion('plan', plan);
  const thresholds = store.keepVersion('thresholds', standardThresholds);
  return runs.map(({ verdict = 'pass', leak = 0.8, job, hold = 10, spikeAt, seen }, i) => {
    const start = from + i * hour;
    const writer = store.beginSegment(channel, { time: start - 2, wall: begun + (start - 2 - 100) * 1000 });
    const run = store.openRun({ channel, from: start, plan: hash, thresholds, instrument: { resolution: 0.1, identity: 'PT-7, certificate 2026-014' } });
    const end = 15 + hold;
    const spike = spikeAt === undefined ? -1 : Math.round((14 + spikeAt) * 10);
    for (let n = -20; n <= end * 10; n++) writer.append(start + n / 10, n === spike ? 597.3 : pressureAt(n / 10, end, leak ?? 0), 0);
    writer.flush();
    const cycle: Cycle = {
      rising: start, reached: start + 9, settled: start + 14, holdEnd: start + 14 + hold, vented: start + end, peak: 556, holdStartPressure: 552,
      holdMinimum: 552 - ((leak ?? 0) * hold) / 60, drop: Number((((leak ?? 0) * hold) / 60).toFixed(2)), dropPercent: 0.1, strokes: 18, topUps: 0,
      leak: leak === null ? null : { rate: leak, standardError: 0.05, settling: 1, timeConstant: 8 }, verdict,
    };
    store.finishRun(run, { from: start, to: start + end, outcome: outcomeOf(verdict, cycle, spike < 0 ? null : start + spike / 10), reading: { from: start - 2, to: start + end, lid: null } });
    if (job !== undefined) store.addEntry(run, { kind: 'job', ...job }, 'J. Doe');
    if (seen !== undefined) store.addEntry(run, { kind: 'visual-finding', finding: seen }, 'J. Doe');
    return run;
  });
}

/** bar, t s after the first rise: up in 9 s, settling for 5 s, a slow loss, down in the last second. */
function pressureAt(t: number, end: number, leak: number): number {
  if (t <= 0) return 0.2;
  if (t < 9) return (556 * t) / 9;
  if (t > end - 1) return Math.max(552 * (end - t), 0.2);
  return Math.round((552 + 4 * Math.exp(-(t - 9) / 1.5) - (leak * Math.max(t - 14, 0)) / 60) * 10) / 10;
}

function outcomeOf(verdict: Verdict, cycle: Cycle, spike: number | null): Outcome {
  return {
    verdict,
    findings: [
      {
        rule: 'leak', outcome: verdict === 'pass' ? 'met' : verdict === 'fail' ? 'broken' : 'undecided', measured: cycle.leak?.rate ?? null, limit: 6, unit: 'bar/min',
        uncertainty: null, at: cycle.settled, sentence: `loses ${cycle.leak?.rate.toFixed(2) ?? 'an unknown number of'} bar/min, at most 6 bar/min wanted`,
      },
    ],
    cycles: [cycle],
    events: spike === null ? [] : [{ kind: 'spike', at: spike, height: 45, width: 0.1, pressure: 597.3 }],
    notes: [],
    signal: { samples: 300, interval: 0.1, resolution: 0.1, noise: 0.05, missing: 0, duplicates: 0, backward: 0 },
    plan: plan.plan,
    thresholds: 'standard',
  };
}
