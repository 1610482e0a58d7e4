import { finding } from './judging/context.js';
import { bar } from './judging/showing.js';
import type { Outcome } from './outcome.js';
import { reachLevel, type Plan } from './plan.js';
import { suspectUnit } from './reading/suspect-unit.js';
import { RunReader } from './run-reader.js';
import type { Thresholds } from './thresholds.js';
import type { Instrument, Mark, Trace } from './trace.js';

/**
 * Judges a recorded trace: one outcome for each run in it, at least one. Never throws on any numbers, finite or not.
 * It feeds the same reader as the live daemon, sample by sample.
 */
export function judge(trace: Trace, plan: Plan | null, thresholds: Thresholds, instrument?: Instrument): Outcome[] {
  const outcomes: Outcome[] = [];
  const reader = new RunReader(
    { plan, thresholds, ...(instrument === undefined ? {} : { instrument }), ...(plan === null ? { usualPressure: highest(trace) } : {}) },
    { runStarted: () => undefined, found: () => undefined, runEnded: (run) => outcomes.push(run.outcome) },
  );
  feed(reader, trace);
  reader.end();
  return outcomes.length > 0 ? outcomes : [nothingFound(reader, plan, thresholds)];
}

/** Feeds a whole trace, marks in their place. */
export function feed(reader: RunReader, trace: Trace): void {
  const { time, pressure, flags } = trace;
  const marks: readonly Mark[] = trace.marks ?? [];
  let next = 0;
  for (let i = 0; i < time.length; i++) {
    const t = time[i] as number;
    while (next < marks.length && (marks[next] as Mark).time <= t) reader.mark(marks[next++] as Mark);
    reader.step(t, pressure[i] as number, flags === undefined ? 0 : (flags[i] as number));
  }
  while (next < marks.length) reader.mark(marks[next++] as Mark);
}

/** bar, the highest reading that can be one; heights are judged against it where there is no plan. */
export function highest(trace: Trace): number {
  let top = 0;
  for (const p of trace.pressure) if (p > top && p < 1e6) top = p;
  return top;
}

/** A recording without a pressurisation is no pass: it says what was there instead. */
export function nothingFound(reader: RunReader, plan: Plan | null, thresholds: Thresholds): Outcome {
  const signal = reader.facts();
  const top = reader.highestBelowAttempt;
  const step = reader.shown();
  const seen = signal.samples === 0 ? 'There is no reading in the recording.' : `No test was found: the pressure rose to ${bar(top, step)} at most.`;
  const unit = plan === null ? null : suspectUnit(top, plan.testPressure);
  const findings = plan === null
    ? [finding('data', 'undecided', `${seen} No plan was given either.`, { unit: '' })]
    : [
        finding('reach', 'undecided', seen, { measured: Number(top.toFixed(3)), limit: Number(reachLevel(plan).toFixed(3)) }),
        finding('hold', 'undecided', 'There was no hold.', { measured: 0, limit: plan.holdTime, unit: 's' }),
        finding('cycles', 'undecided', `The run has no full cycle of ${plan.cycles} planned.`, { measured: 0, limit: plan.cycles, unit: 'cycles' }),
        finding('data', unit === null && signal.samples > 0 ? 'met' : 'undecided',
          unit === null
            ? signal.samples > 0 ? 'The readings are complete and plausible.' : 'There is nothing to read.'
            : `The readings fit the plan if they are ${unit}, not bar: the unit is suspected to be wrong.`,
          { unit: '' }),
      ];
  return {
    verdict: 'inconclusive', findings, cycles: [], events: [], notes: [], signal, plan: plan?.plan ?? null, thresholds: thresholds.thresholds,
  };
}
