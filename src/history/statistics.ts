import { resolve } from '../core/quantity.js';
import type { Cycle, Verdict } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import { assemblyResults } from '../records/assembly-results.js';
import type { StoreReader } from '../records/store-reader.js';
import type { ControlChart, Counts, Group, Groups, Statistics, StatisticsPoint } from '../server/history-answers.js';
import { distributionOf } from '../statistics/distribution.js';
import { ewmaChart } from '../statistics/ewma-chart.js';
import { individualsLimits, movingRanges } from '../statistics/individuals-chart.js';
import { brokenRunRules, runRuleWords } from '../statistics/run-rules.js';
import { wilsonInterval } from '../statistics/wilson-interval.js';
import { chartSentences } from './chart-sentences.js';
import type { StatisticsChoice } from './history-question.js';
import { RunFactsReader, type RunFacts } from './run-facts.js';

/** Runs that are gone through, the newest; older ones are counted as left out. */
const mostLooked = 50_000;
/** Points of one chart, the newest. */
const mostPoints = 2_000;
/** Weight of the newest value in the EWMA, as in NIST/SEMATECH e-Handbook 6.3.2.4. */
const weight = 0.3;
/** With fewer passed tests than this no limits are drawn: they would move with each one more. */
const leastBaseline = 8;

/** Counts runs one by one. */
class Tally {
  private readonly counts: Record<Verdict, number> = { pass: 0, fail: 0, inconclusive: 0 };

  add(result: Verdict): void {
    this.counts[result]++;
  }

  get result(): Counts {
    const { pass, fail } = this.counts;
    return { ...this.counts, rate: wilsonInterval(pass, pass + fail) };
  }
}

const isRetest = ({ job }: RunFacts): boolean => job?.retestOf !== undefined;
const plain = (text: string): string => text.trim().toLowerCase();
const hoseOf = ({ job }: RunFacts): string => job?.hose?.trim() ?? '';

/** Which plans and hoses were tested, with their pass rates. Only sealed results count. */
export function groups(store: StoreReader, bench: string, span: { from?: number | undefined; to?: number | undefined }): Groups {
  const found = new Map<string, { plan: string; hose: string; first: Tally; retests: Tally; newest: number }>();
  let looked = 0;
  let leftOut = 0;
  for (const facts of new RunFactsReader(store).sealed(bench, span)) {
    if (looked >= mostLooked) {
      leftOut = olderThan(store, bench, facts.run);
      break;
    }
    looked++;
    if (facts.result === null) continue;
    const [plan, hose] = [facts.plan ?? '', hoseOf(facts)];
    const key = `${plan}\n${plain(hose)}`;
    const group = found.get(key) ?? { plan, hose, first: new Tally(), retests: new Tally(), newest: facts.wall };
    found.set(key, group);
    (isRetest(facts) ? group.retests : group.first).add(facts.result);
  }
  const all = [...found.values()].map(({ first, retests, ...group }): Group => ({ ...group, first: first.result, retests: retests.result }));
  return { groups: all.sort((a, b) => b.newest - a.newest), looked, leftOut };
}

/** Pass rates, distribution and control chart of one plan and hose. Only sealed results count. */
export function statistics(store: StoreReader, bench: string, { plan, hose, measure, baseline, together, from, to }: StatisticsChoice): Statistics {
  const reader = new RunFactsReader(store);
  const [first, retests] = [new Tally(), new Tally()];
  const [single, alone] = [new Tally(), { count: 0 }];
  const points: StatisticsPoint[] = [];
  let leftOut = 0;
  let looked = 0;
  for (const facts of reader.sealed(bench, { from, to })) {
    if (++looked > mostLooked || points.length >= mostPoints) {
      leftOut = olderThan(store, bench, facts.run);
      break;
    }
    const { run, wall, result, job, judged, visual } = facts;
    const serials = job?.assemblies ?? [];
    const count = Math.max(serials.length, 1);
    if ((facts.plan ?? '') !== plan || plain(hoseOf(facts)) !== plain(hose) || result === null || (together !== undefined && together !== count)) continue;
    const retest = isRetest(facts);
    (retest ? retests : first).add(result);
    if (!retest) for (const line of assemblyResults(judged ?? result, serials, visual)) if (line.result === 'retest alone') alone.count++; else single.add(line.result);
    points.push({ run, wall, result, retest, assemblies: count, planVersion: facts.planVersion, value: worstOf(reader.cycles(run), measure) });
  }
  points.reverse();
  const chart = chartOf(points, baseline);
  const counted = charted(points).flatMap((i) => points[i]?.value ?? []);
  const unit = measure === 'leak' ? 'bar/min' : 'bar';
  return {
    plan, hose, measure, unit, points, chart, leftOut,
    first: first.result, retests: retests.result,
    assemblies: { ...single.result, retestAlone: alone.count },
    distribution: distributionOf(counted),
    limit: limitOf(store, points.at(-1)?.planVersion ?? null, measure),
    sentences: chartSentences(points, chart, measure, baseline),
    rules: runRuleWords,
  };
}

/** The largest loss of the cycles; `null` where none was measured. */
function worstOf(cycles: readonly Cycle[], measure: 'leak' | 'drop'): number | null {
  const values = cycles.flatMap(({ leak, drop }) => (measure === 'leak' ? (leak === null ? [] : [leak.rate]) : drop === null ? [] : [drop]));
  return values.length === 0 ? null : Math.max(...values);
}

/** First tests that passed or failed and have a value: retests and what is undecided would tell of something else. */
const charted = (points: readonly StatisticsPoint[]): number[] =>
  points.flatMap(({ value, retest, result }, i) => (value === null || retest || result === 'inconclusive' ? [] : [i]));

function chartOf(points: readonly StatisticsPoint[], wanted: number): ControlChart | null {
  const at = charted(points);
  const values = at.map((i) => points[i]?.value ?? 0);
  const good = at.flatMap((i, n) => (points[i]?.result === 'pass' ? [values[n] ?? 0] : [])).slice(0, wanted);
  const limits = good.length < leastBaseline ? null : individualsLimits(good);
  if (limits === null) return null;
  const ewma = ewmaChart(values, { weight, target: limits.centre, sigma: limits.sigma, width: 3 });
  return { at, baseline: good.length, limits, ranges: movingRanges(values), ewma: { ...ewma, weight }, broken: brokenRunRules(values, limits.centre, limits.sigma) };
}

/** The plan's limit of the measure, where it is one number whatever the run. */
function limitOf(store: StoreReader, version: string | null, measure: 'leak' | 'drop'): number | null {
  const plan = version === null ? undefined : (store.versions.get(version)?.content as Plan | undefined);
  if (measure === 'leak') return plan?.leakLimit ?? null;
  return plan?.maximumDrop === undefined || plan.maximumDrop.kind === 'fraction' ? null : resolve(plan.maximumDrop, plan.testPressure);
}

const olderThan = (store: StoreReader, bench: string, run: number): number =>
  store.db.prepare<[string, number], number>("SELECT count(*) FROM runs WHERE bench = ? AND number <= ? AND state <> 'open'").pluck().get(bench, run) ?? 0;
