import { leakRateBound } from '../../src/core/fit/cramer-rao.js';
import { exitCode, worstVerdict, type Outcome } from '../../src/core/outcome.js';
import type { Plan } from '../../src/core/plan.js';
import type { Truth, TrueEvent } from '../truth.js';

/** How one judged run compares with what is true of it. */
export interface Comparison {
  readonly family: string;
  readonly name: string;
  readonly verdict: string;
  readonly truth: string;
  /** The verdict is one that an honest reader may give. */
  readonly right: boolean;
  readonly decidable: boolean;
  /** `pass` where the truth does not allow it. */
  readonly falsePass: boolean;
  /** s: how far the start of hold lies outside what the definition allows; `null` where there is none to compare. */
  readonly holdStart: number | null;
  /** s: what is allowed. */
  readonly holdStartAllowed: number;
  /** bar over what noise and one sample's slew explain; `null` where the signal hid the pressure. */
  readonly peakExcess: number | null;
  /** Leak rate error over its reported standard error and over the Cramer-Rao bound; `null` without a leak to compare. */
  readonly leak: { readonly error: number; readonly standardError: number; readonly bound: number } | null;
  readonly spikes: Matches;
  readonly glitches: Matches;
  /** Why it is wrong, in the tool's own words. */
  readonly said: string;
}

export interface Matches {
  readonly found: number;
  readonly missed: number;
  readonly false: number;
}

const none: Matches = { found: 0, missed: 0, false: 0 };

/** Compares the outcomes of one recording with its truth. */
export function compare(name: string, outcomes: readonly Outcome[], truth: Truth, plan: Plan): Comparison {
  const outcome = [...outcomes].sort((a, b) => gravity(b) - gravity(a))[0];
  const verdict = worstVerdict(outcomes.map((o) => o.verdict));
  const right = verdict === truth.verdict || (!truth.decidable && truth.acceptable.includes(verdict));
  const decisive = outcome?.findings.find((f) => f.outcome !== 'met');
  const fast = truth.signal.rate >= 100 && truth.observable;
  return {
    family: truth.scenario,
    name,
    verdict,
    truth: truth.verdict,
    right,
    decidable: truth.decidable,
    falsePass: verdict === 'pass' && !truth.acceptable.includes('pass'),
    ...holdStart(outcomes, truth, plan),
    peakExcess: peakExcess(outcomes, truth),
    leak: leakError(outcomes, truth, plan),
    spikes: fast ? match(eventsOf(outcomes, 'spike'), truth.events.filter((e) => e.kind === 'spike'), truth, true) : none,
    glitches: fast ? match(eventsOf(outcomes, 'glitch'), truth.events.filter((e) => e.kind === 'glitch'), truth, false) : none,
    said: decisive === undefined ? 'every rule met' : `${decisive.rule} ${decisive.outcome}: ${decisive.sentence}`,
  };
}

const gravity = (o: Outcome): number => [0, 3, 1].indexOf(exitCode[o.verdict]);

const eventsOf = (outcomes: readonly Outcome[], kind: string) => outcomes.flatMap((o) => o.events).filter((e) => e.kind === kind);

function holdStart(outcomes: readonly Outcome[], truth: Truth, plan: Plan): { holdStart: number | null; holdStartAllowed: number } {
  const allowed = Math.max(1.5, 0.02 * plan.holdTime);
  const seen = outcomes[0]?.cycles[0];
  const real = truth.cycles[0];
  if (!truth.observable || seen === undefined || seen.settled === null || real?.settled == null || real.settledBy !== 'slope') {
    return { holdStart: null, holdStartAllowed: allowed };
  }
  return { holdStart: seen.settled - real.settled, holdStartAllowed: allowed };
}

function peakExcess(outcomes: readonly Outcome[], truth: Truth): number | null {
  const seen = outcomes[0]?.cycles[0]?.peak ?? null;
  const real = truth.cycles[0]?.peak ?? null;
  if (!truth.observable || seen === null || real === null || truth.cycles.length === 0) return null;
  return seen - real;
}

/** Leak against truth, where there is a full first hold and the fit's model can describe it. */
function leakError(outcomes: readonly Outcome[], truth: Truth, plan: Plan): Comparison['leak'] {
  const cycle = outcomes[0]?.cycles[0];
  const real = truth.cycles[0];
  if (!truth.observable || cycle?.leak == null || cycle.settled === null || cycle.holdEnd === null || real?.leak == null) return null;
  if (cycle.holdEnd - cycle.settled < 0.99 * plan.holdTime || real.leak.startedAt !== null || truth.signal.wander > 0 || cycle.topUps > 0) return null;
  // The bound counts all readings from the last stroke on: what the fit may use.
  const from = real.strokeTimes[real.strokeTimes.length - 1] ?? cycle.settled - 10;
  const n = Math.round((cycle.holdEnd - from) * Math.min(truth.signal.rate, 50));
  const step = 1 / Math.min(truth.signal.rate, 50);
  const sigma = truth.signal.noise / Math.sqrt(Math.max(1, truth.signal.rate / 50));
  const bound = leakRateBound({ time: Array.from({ length: n }, (_, i) => i * step), sigma, tau: Math.max(cycle.leak.timeConstant, 1), c: cycle.leak.settling });
  return { error: cycle.leak.rate - real.leak.rate, standardError: cycle.leak.standardError, bound };
}

/** Events found against events made to happen: same kind, within 60 ms or their width of each other. */
function match(found: readonly { at: number; height?: number }[], real: readonly TrueEvent[], truth: Truth, spikes: boolean): Matches {
  const left = [...found];
  let hits = 0;
  let missed = 0;
  for (const e of real) {
    const i = left.findIndex((f) => Math.abs(f.at - e.at) <= Math.max(0.06, e.width));
    if (i >= 0) {
      left.splice(i, 1);
      hits++;
    } else if (worthFinding(e, truth, spikes)) missed++;
  }
  return { found: hits, missed, false: left.length };
}

/** Lower than the spike threshold, or lost in noise, an excursion need not be told. */
function worthFinding(e: TrueEvent, truth: Truth, spike: boolean): boolean {
  const size = Math.abs(e.height);
  const test = truth.findings.find((f) => f.rule === 'reach')?.limit ?? 0;
  return size > 10 * truth.signal.noise && size > (spike ? 0.0125 : 0.002) * test;
}
