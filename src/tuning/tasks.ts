import type { Outcome } from '../core/outcome.js';
import { InputError } from '../core/problems.js';
import type { Thresholds } from '../core/thresholds.js';
import { DamagedBlock } from '../records/block-codec.js';
import { holdSeen, type HoldSeen } from './hold-seen.js';
import { decisiveOutcome, judgingBy, type Candidate } from './judging.js';
import { isMeant, type LibraryChoice, type RecordedRun, type RunCard, type RunKey, type RunLibrary } from './run-library.js';
import { runChange, type RunChange } from './run-change.js';
import { mark, type Marked } from './sweep-marks.js';

/** What is asked of every run. Plain data: it goes to other threads. */
export type Task =
  /** What changes when the candidate takes the place of what the run was judged by. */
  | { readonly kind: 'compare'; readonly candidate: Candidate; /** Give the outcomes whole, too. */ readonly whole?: boolean }
  /** How each of several candidates does against what is known of the run. */
  | { readonly kind: 'mark'; readonly candidates: readonly Candidate[] }
  /** How well a leak is told from settling in each hold. */
  | { readonly kind: 'holds'; readonly candidate: Candidate };

/** A run that comes out as it does; the card tells which it is. */
export interface Compared extends RunCard {
  readonly change: RunChange;
  /** The readings come out otherwise with the run's own plan and thresholds already: another version judged it. */
  readonly byProgram: boolean;
  /** Where the candidate's plan takes the place of one with another name. */
  readonly otherPlan: string | null;
  readonly outcomes?: { readonly before: readonly Outcome[]; readonly after: readonly Outcome[] };
}

/** A run with the marks of each candidate. */
export interface MarkedRun extends RunCard {
  /** What kind of run it is, so that runs of one kind are held out together. */
  readonly group: string;
  readonly own: Thresholds;
  readonly marks: readonly Marked[];
}

export interface HoldsOfRun extends RunCard {
  readonly holds: readonly HoldSeen[];
}

export interface TaskResults {
  readonly compare: Compared;
  readonly mark: MarkedRun;
  readonly holds: HoldsOfRun;
}
export type ResultOf<T extends Task> = TaskResults[T['kind']];

/** What came of one run: a result, nothing where it was not meant after all, or why it could not be judged. */
export type Done<Result> =
  | { readonly key: RunKey; readonly result: Result }
  | { readonly key: RunKey; readonly leftOut: true }
  | { readonly key: RunKey; readonly problem: string };

/** Does the task on one run. A run that cannot be read is told and is nobody else's trouble. */
export function doTask(library: RunLibrary, key: RunKey, choice: LibraryChoice, task: Task): Done<Compared | MarkedRun | HoldsOfRun> {
  try {
    const run = library.run(key);
    if (!isMeant(run, choice)) return { key, leftOut: true };
    const result = resultOf(run, choice, task);
    return result === null ? { key, leftOut: true } : { key, result };
  } catch (error) {
    if (error instanceof InputError || error instanceof DamagedBlock) return { key, problem: error instanceof InputError ? error.message : `${String(key)}: ${error.message}` };
    throw error;
  }
}

function resultOf(run: RecordedRun, { verdict }: LibraryChoice, task: Task): Compared | MarkedRun | HoldsOfRun | null {
  const card = cardOf(run);
  switch (task.kind) {
    case 'compare': {
      const result = compared(run, card, task.candidate, task.whole === true);
      return verdict === undefined || result.change.before.verdict === verdict ? result : null;
    }
    case 'mark': {
      if (run.labels.truth === null && run.labels.spikes.length === 0) return { ...card, group: '', own: run.own.thresholds, marks: [] };
      const outcomes = run.judge(task.candidates.map((candidate) => judgingBy(run.own, candidate)));
      return { ...card, group: `${run.hose ?? ''} / ${run.planName ?? ''}`, own: run.own.thresholds, marks: outcomes.map((found) => mark(found, run.labels)) };
    }
    case 'holds':
      return { ...card, holds: run.cycles(judgingBy(run.own, task.candidate)).flatMap((cycle) => holdSeen(cycle) ?? []) };
  }
}

function compared(run: RecordedRun, card: RunCard, candidate: Candidate, whole: boolean): Compared {
  const needsOwn = run.recorded === null || run.otherProgram;
  const [after = [], again = []] = run.judge([judgingBy(run.own, candidate), ...(needsOwn ? [run.own] : [])]);
  const before = run.recorded ?? again;
  const change = runChange(before, after);
  return {
    ...card,
    change,
    byProgram: run.recorded !== null && run.otherProgram && decisiveOutcome(again)?.verdict !== decisiveOutcome(before)?.verdict,
    otherPlan: candidate.plan === undefined || candidate.plan.plan === run.planName ? null : run.planName,
    ...(whole && { outcomes: { before, after } }),
  };
}

const cardOf = ({ key, name, bench, wall, hose, planName, labels }: RunCard): RunCard => ({ key, name, bench, wall, hose, planName, labels });
