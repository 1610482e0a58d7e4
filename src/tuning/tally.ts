import type { RunLabels, RunTruth } from '../records/run-labels.js';
import { proportion, type Proportion } from './proportion.js';
import type { Marked } from './sweep-marks.js';

/** What each kind of mistake costs; a false fail is the unit. */
export interface Costs {
  /** A leaking assembly that passes, or a run that cannot tell. */
  readonly falsePass: number;
  /** A sound assembly that fails, or a run that cannot tell. */
  readonly falseFail: number;
  /** A run whose truth is known and that stays undecided: a test to be done again. */
  readonly undecided: number;
  /** A real spike that is not told, and one that is told without having been there. */
  readonly spike: number;
}

export const usualCosts: Costs = { falsePass: 100, falseFail: 1, undecided: 0.2, spike: 0.5 };

/** A labelled run as one judging has it. */
export interface Case {
  readonly labels: RunLabels;
  readonly marked: Marked;
}

/** How one judging does over all labelled runs. */
export interface Tally {
  /** Runs that pass, of all leaking ones and those that cannot tell. */
  readonly falsePass: Proportion;
  /** Runs that fail, of all sound ones and those that cannot tell. */
  readonly falseFail: Proportion;
  /** Of all that leak or are sound. */
  readonly undecided: Proportion;
  /** Real spikes not told, of all real ones. */
  readonly spikesMissed: Proportion;
  /** Spikes told of all that were none. */
  readonly falseSpikes: Proportion;
  /** All mistakes at their costs. */
  readonly cost: number;
}

/** What a single run costs. */
export function costOf({ labels: { truth }, marked }: Case, costs: Costs): number {
  const { verdict, spikesMissed, falseSpikes } = marked;
  const wrong =
    truth === null || (truth === 'cannot tell' && verdict === 'inconclusive') ? 0
    : verdict === 'inconclusive' ? costs.undecided
    : verdict === 'pass' ? (truth === 'truly sound' ? 0 : costs.falsePass)
    : truth === 'truly leaking' ? 0 : costs.falseFail;
  return wrong + costs.spike * (spikesMissed + falseSpikes);
}

/** Adds up. */
export function tally(cases: readonly Case[], costs: Costs): Tally {
  const some = (...truths: readonly RunTruth[]) => cases.filter(({ labels }) => truths.some((truth) => truth === labels.truth));
  const known = some('truly leaking', 'truly sound');
  const [mayNotPass, mayNotFail] = [some('truly leaking', 'cannot tell'), some('truly sound', 'cannot tell')];
  const count = (among: readonly Case[], verdict: string) => among.filter(({ marked }) => marked.verdict === verdict).length;
  const sum = (pick: (marked: Marked) => number) => cases.reduce((total, { marked }) => total + pick(marked), 0);
  return {
    falsePass: proportion(count(mayNotPass, 'pass'), mayNotPass.length),
    falseFail: proportion(count(mayNotFail, 'fail'), mayNotFail.length),
    undecided: proportion(count(known, 'inconclusive'), known.length),
    spikesMissed: proportion(sum((m) => m.spikesMissed), sum((m) => m.spikesMissed + m.spikesTold)),
    falseSpikes: proportion(sum((m) => m.falseSpikes), sum((m) => m.falseSpikes + m.falseAvoided)),
    cost: cases.reduce((total, one) => total + costOf(one, costs), 0),
  };
}
