import { sentenceOnRunClock } from '../certificate/run-clock.js';
import type { Outcome } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import type { Thresholds } from '../core/thresholds.js';
import { reasonsOf } from '../daemon/run-summary.js';
import { inputError } from '../core/problems.js';
import { extentOf } from '../records/run-record.js';
import { runStory } from '../records/run-story.js';
import type { StoreReader } from '../records/store-reader.js';
import type { RunDetail } from '../server/history-answers.js';
import { planLines } from '../sinks/live-setup.js';

/** Its sentences with their moments counted from the start of the run, as documents print them. */
function onRunClock(outcome: Outcome, from: number, to: number): Outcome {
  const told = (sentence: string): string => sentenceOnRunClock(sentence, from, to);
  return { ...outcome, findings: outcome.findings.map((finding) => ({ ...finding, sentence: told(finding.sentence) })), notes: outcome.notes.map(told) };
}

/** Runs of the same assemblies that are named beside a run. */
const mostOthers = 50;

/** @throws InputError when there is no such run of the bench, or it is still going on */
export function runDetail(store: StoreReader, bench: string, number: number): RunDetail {
  const { run, job, judgement, result } = runStory(store, number);
  if (run.bench !== bench) throw inputError(`run ${number}`, '', `is of another bench, ${run.bench}`);
  const outcome = onRunClock(judgement.outcome, run.from, run.to ?? run.from);
  const plan = judgement.plan === null ? null : ((store.versions.get(judgement.plan)?.content as Plan | undefined) ?? null);
  const thresholds = store.versions.get(judgement.thresholds)?.content as Thresholds | undefined;
  const read = extentOf(run);
  return {
    run: number, bench, result, outcome, plan, job,
    state: run.state,
    from: run.from, to: run.to ?? run.from, readFrom: read.from, readTo: read.to,
    wall: run.fromWall,
    sealed: run.verdict ?? 'inconclusive',
    reasons: reasonsOf(outcome),
    lines: plan && planLines(plan),
    versions: {
      plan: judgement.plan, thresholds: judgement.thresholds, software: run.software, instrument: run.instrument?.identity ?? null,
      seal: store.ledger.of(number).at(-1)?.seal ?? null,
    },
    gap: Math.max(thresholds?.gap ?? 1, 3 * (outcome.signal.interval ?? 0)),
    traceRemoved: store.traceRemoved(number),
    others: (job?.assemblies ?? [])
      .flatMap((serial) => store.search.named(serial).filter((other) => other !== number).map((other) => ({ run: other, serial })))
      .slice(0, mostOthers),
  };
}
