import type { Rule, RuleOutcome, Verdict } from '../src/core/outcome.js';
import { reachLevel, type Plan } from '../src/core/plan.js';
import type { ReadingLimits } from '../src/core/thresholds.js';
import type { Instrument } from '../src/core/trace.js';
import { coarse, grid, type BenchRecord } from './bench.js';
import type { CycleLog } from './operator.js';
import type { SettledBy } from './settling-watch.js';
import type { Recording, TransducerSettings } from './transducer.js';
import { cycleFindings, runFindings } from './truth-rules.js';

/** One rule as it is in truth: what it comes to, and what an honest reader of the recording may find. */
export interface TrueFinding {
  readonly rule: Rule;
  readonly outcome: RuleOutcome;
  /** All outcomes within reach of the measurement; one alone when the recording decides. */
  readonly possible: readonly RuleOutcome[];
  /** In the unit of the rule; `null` where there is none. */
  readonly measured: number | null;
  readonly limit: number | null;
  /** From 1. */
  readonly cycle: number;
}

/** Times in s on the recording's clock, pressures in bar, all from the noise-free pressure; `null` for what did not come. */
export interface TrueCycle {
  readonly rising: number | null;
  readonly reached: number | null;
  readonly settled: number | null;
  /** Start of hold under a lenient and a strict reading of the definition in the light of this recording's noise. */
  readonly settledRange: readonly [number | null, number | null];
  readonly settledBy: SettledBy | null;
  readonly holdEnd: number | null;
  readonly vented: number | null;
  readonly peak: number | null;
  readonly holdStartPressure: number | null;
  readonly holdMinimum: number | null;
  readonly drop: number | null;
  readonly strokes: number;
  readonly strokeTimes: readonly number[];
  readonly topUps: number;
  /** `rate` bar/min that leakage alone costs in the middle of the hold, `settlingRate` bar/min of everything else there (`null` in a hold with a top-up), `startedAt` s when it began after the last stroke, `null` for an earlier one or none. */
  readonly leak: { readonly rate: number; readonly settlingRate: number | null; readonly startedAt: number | null } | null;
}

/** Something that was made to happen. `at` in s: the top of a spike, the extreme of a glitch, else the begin. */
export interface TrueEvent {
  readonly kind: 'spike' | 'glitch' | 'burst' | 'gap' | 'top-up' | 'saturation' | 'flatline' | 'zero-shift' | 'loop-fault' | 'leak';
  readonly at: number;
  /** bar, signed for a glitch */ readonly height: number;
  /** s */ readonly width: number;
}

export interface Truth {
  readonly scenario: string;
  readonly seed: number;
  readonly verdict: Verdict;
  /** The rule that decides; `null` for a pass. */
  readonly verdictReason: Rule | null;
  /** False when the truth lies within reach of the measurement: then any of `acceptable` is honest. */
  readonly decidable: boolean;
  readonly acceptable: readonly Verdict[];
  /** False when the signal hid what happened (valve to the sensor shut, wrong unit, saturated, frozen): cycle times and pressures cannot be compared. */
  readonly observable: boolean;
  readonly findings: readonly TrueFinding[];
  readonly cycles: readonly TrueCycle[];
  readonly events: readonly TrueEvent[];
  readonly instrument: Instrument;
  /** Sampling rate (Hz), standard deviation of white and slow noise (bar). */
  readonly signal: { readonly rate: number; readonly noise: number; readonly wander: number };
}

/** What truth is computed from. */
export interface Evidence {
  readonly plan: Plan;
  readonly limits: ReadingLimits;
  readonly bench: BenchRecord;
  readonly recording: Recording;
  readonly transducer: TransducerSettings;
  readonly instrument: Instrument;
  /** s on the bench's clock where the recording begins and ends. */
  readonly from: number;
  readonly to: number;
}

/** The cycles that the recording shows from their first rise on. */
export const shownCycles = (e: Evidence): readonly CycleLog[] => e.bench.cycles.filter((c) => c.rising >= e.from && c.rising < e.to);

/** Labels a run from what was set and from the noise-free pressure; knows nothing of detectors. */
export function truthOf(e: Evidence, scenario: string, seed: number): Truth {
  const logs = shownCycles(e);
  const findings = [...logs.flatMap((log, i) => cycleFindings(e, log, i + 1)), ...runFindings(e, logs)];
  const acceptable = acceptableVerdicts(findings);
  const deciding = decidingFinding(findings);
  return {
    scenario, seed,
    verdict: deciding === null ? 'pass' : deciding.outcome === 'broken' ? 'fail' : 'inconclusive',
    verdictReason: deciding?.rule ?? null,
    decidable: acceptable.length === 1,
    acceptable,
    observable: isObservable(e),
    findings,
    cycles: logs.map((log) => trueCycle(e, log)),
    events: trueEvents(e),
    instrument: e.instrument,
    signal: { rate: e.transducer.rate, noise: e.transducer.noise, wander: e.transducer.wander },
  };
}

/** The most telling rule first, where several are broken or undecided; what the recording shows surely comes before what it may show. */
const tellingOrder: readonly Rule[] = ['burst', 'ceiling', 'drop', 'minimum', 'leak', 'rise', 'data', 'reach', 'top-up', 'hold', 'cycles', 'lid'];

function decidingFinding(findings: readonly TrueFinding[]): TrueFinding | null {
  for (const outcome of ['broken', 'undecided'] as const) {
    const candidates = tellingOrder.flatMap((rule) => findings.filter((f) => f.rule === rule && f.outcome === outcome));
    const found = candidates.find((f) => f.possible.length === 1) ?? candidates[0];
    if (found !== undefined) return found;
  }
  return null;
}

/** Every verdict that some combination of possible outcomes gives; fail before inconclusive before pass. */
export function acceptableVerdicts(findings: readonly TrueFinding[]): Verdict[] {
  const surely = (outcome: RuleOutcome) => findings.some((f) => f.possible.every((p) => p === outcome));
  const maybe = (outcome: RuleOutcome) => findings.some((f) => f.possible.includes(outcome));
  if (surely('broken')) return ['fail'];
  const verdicts: Verdict[] = [];
  if (maybe('broken')) verdicts.push('fail');
  const canAvoidBreaking = findings.every((f) => f.possible.some((p) => p !== 'broken'));
  if (canAvoidBreaking && maybe('undecided')) verdicts.push('inconclusive');
  if (findings.length > 0 && findings.every((f) => f.possible.includes('met'))) verdicts.push('pass');
  return verdicts;
}

const orNull = (value: number): number | null => (Number.isFinite(value) ? value : null);

/** Pressure without pulses at `t` s on the bench's clock, averaged over `span` s from there on. */
export function meanPressure(e: Evidence, t: number, span: number): number {
  const first = Math.max(0, Math.round(t / grid));
  const last = Math.min(e.bench.calm.length, Math.round((t + span) / grid));
  let sum = 0;
  for (let i = first; i < last; i++) sum += e.bench.calm[i] ?? 0;
  return last > first ? sum / (last - first) : Number.NaN;
}

/** Lowest and highest of a column between two moments (s on the bench's clock). */
export function extremes(column: Float64Array, from: number, to: number): { lowest: number; highest: number; highestAt: number } {
  let lowest = Number.POSITIVE_INFINITY;
  let highest = Number.NEGATIVE_INFINITY;
  let highestAt = Number.NaN;
  const last = Math.min(column.length - 1, Math.round(to / grid));
  for (let i = Math.max(0, Math.round(from / grid)); i <= last; i++) {
    const p = column[i] ?? 0;
    if (p < lowest) lowest = p;
    if (p > highest) {
      highest = p;
      highestAt = i * grid;
    }
  }
  return { lowest, highest, highestAt };
}

/** s on the bench's clock: the moment after which nothing of this cycle's hold can be seen (vent, burst, end). */
export function cycleLimit(e: Evidence, log: CycleLog): number {
  const burst = burstOf(e, log);
  return Math.min(Number.isNaN(log.vented) ? e.to : log.vented, Number.isNaN(burst) ? e.to : burst, e.to);
}

/** s on the bench's clock: when this cycle burst, NaN if it did not. */
export const burstOf = (e: Evidence, log: CycleLog): number =>
  e.bench.burstAt.find((at) => at >= log.rising && at < (Number.isNaN(log.vented) ? e.to : log.vented)) ?? Number.NaN;

/** bar/min that leakage alone costs at `t` s on the bench's clock. */
export const leakRateAt = (e: Evidence, t: number): number => (e.bench.lossRate[Math.round(t / coarse)] ?? 0) * 60;

function trueCycle(e: Evidence, log: CycleLog): TrueCycle {
  const limit = cycleLimit(e, log);
  const shift = (t: number) => orNull(t - e.from);
  const reached = firstAbove(e.bench.calm, reachLevel(e.plan), log.rising, limit);
  const began = !Number.isNaN(log.settled) && !log.tooLow && !Number.isNaN(reached) && log.settled < limit;
  const holdEnd = began ? Math.min(log.settled + e.plan.holdTime, limit) : Number.NaN;
  const mid = (log.settled + holdEnd) / 2;
  const hold = began ? extremes(e.bench.calm, log.settled, holdEnd) : null;
  const start = began ? meanPressure(e, log.settled, Math.min(1, holdEnd - log.settled)) : Number.NaN;
  const end = began ? meanPressure(e, Math.max(log.settled, holdEnd - 1), Math.min(1, holdEnd - log.settled)) : Number.NaN;
  const slope = began ? (meanPressure(e, mid - 0.5, 0.1) - meanPressure(e, mid + 0.4, 0.1)) * (60 / 0.9) : Number.NaN;
  const leakStart = e.bench.leakAt.filter((at) => at > log.stopped && at <= limit);
  const strokeTimes = e.bench.strokes
    .filter((s) => s.start >= log.rising - coarse && s.start <= limit && !log.topUps.some((t) => s.start >= t.at && s.start <= t.end))
    .map((s) => s.start - e.from);
  return {
    rising: shift(log.rising),
    reached: shift(reached),
    settled: began ? shift(log.settled) : null,
    settledRange: [shift(log.settledEarly), shift(log.settledLate)],
    settledBy: began ? log.settledBy : null,
    holdEnd: shift(holdEnd),
    vented: log.vented < e.to ? shift(log.vented) : null,
    peak: orNull(extremes(e.bench.pressure, log.rising, limit).highest),
    holdStartPressure: orNull(start),
    holdMinimum: hold === null ? null : orNull(hold.lowest),
    drop: orNull(start - end),
    strokes: strokeTimes.length,
    strokeTimes,
    topUps: log.topUps.length,
    leak: began
      ? { rate: leakRateAt(e, mid), settlingRate: log.topUps.length > 0 ? null : orNull(slope - leakRateAt(e, mid)), startedAt: leakStart.length > 0 ? shift(Math.min(...leakStart)) : null }
      : null,
  };
}

/** First moment (s) at or above `level`, NaN if none. */
function firstAbove(column: Float64Array, level: number, from: number, to: number): number {
  for (let i = Math.max(0, Math.round(from / grid)); i < Math.min(column.length, to / grid); i++) {
    if ((column[i] ?? 0) >= level) return i * grid;
  }
  return Number.NaN;
}

function isObservable(e: Evidence): boolean {
  const hides = e.recording.faults.some((f) => f.kind === 'shut-valve' || f.kind === 'frozen' || f.kind === 'loop-fault');
  return !hides && e.transducer.unitFactor === 1 && e.recording.saturated === 0;
}

function trueEvents(e: Evidence): TrueEvent[] {
  const events: TrueEvent[] = [];
  const add = (kind: TrueEvent['kind'], at: number, height: number, width: number) => {
    if (at >= 0 && at <= e.to - e.from) events.push({ kind, at, height, width });
  };
  for (const h of e.bench.hammers) add('spike', h.at - e.from, h.height, h.width);
  for (const at of e.bench.burstAt) if (!Number.isNaN(at)) add('burst', at - e.from, e.bench.calm[Math.round(at / grid)] ?? 0, 0);
  for (const at of e.bench.leakAt) if (!Number.isNaN(at)) add('leak', at - e.from, 0, 0);
  for (const log of shownCycles(e)) for (const t of log.topUps) add('top-up', t.at - e.from, t.after - t.before, t.end - t.at);
  for (const f of e.recording.faults) {
    const kind = f.kind === 'frozen' || f.kind === 'shut-valve' ? 'flatline' : f.kind;
    add(kind, f.at, f.height, f.width);
  }
  if (e.recording.saturated > 0) add('saturation', e.recording.saturatedAt, 0, e.recording.saturated / e.transducer.rate);
  return events.sort((a, b) => a.at - b.at);
}
