import type { Outcome, Verdict } from '../core/outcome.js';
import { inputError } from '../core/problems.js';
import { assemblyResults, runResult, type AssemblyResult } from './assembly-results.js';
import type { AppendedEntry, Entry } from './entries.js';
import { jobIn, type Job } from './job.js';
import type { Run } from './runs.js';
import type { StoreReader } from './store-reader.js';
import type { VisualFinding } from './visual-finding.js';

/** An entry of one kind, with who said it and when. */
export type Said<Kind extends Entry['kind']> = AppendedEntry & { readonly entry: Extract<Entry, { kind: Kind }> };

/** A run that is over, with everything said about it since: the newest entry of a kind holds, the earlier ones are kept. */
export interface RunStory {
  readonly run: Run;
  readonly entries: readonly AppendedEntry[];
  /** In order, the newest last. */
  readonly jobs: readonly Said<'job'>[];
  readonly visuals: readonly Said<'visual-finding'>[];
  readonly notes: readonly Said<'note'>[];
  readonly job: Job | null;
  readonly visual: VisualFinding | null;
  /** By which the run is judged now. */
  readonly judgement: Judgement;
  readonly assemblies: readonly AssemblyResult[];
  /** The worst of the assemblies. */
  readonly result: Verdict;
}

export interface Judgement {
  readonly outcome: Outcome;
  /** Content hashes. */
  readonly plan: string | null;
  readonly thresholds: string;
  /** The entry that judged again; `null` where the sealed outcome holds. */
  readonly again: Said<'judged-again'> | null;
}

const ofKind = <Kind extends Entry['kind']>(entries: readonly AppendedEntry[], kind: Kind): Said<Kind>[] =>
  entries.filter((appended): appended is Said<Kind> => appended.entry.kind === kind);

/** @throws InputError when there is no such run, or it is still going on */
export function runStory(store: StoreReader, number: number): RunStory {
  const run = store.getRun(number);
  if (run === null) throw inputError(`run ${number}`, '', 'there is no such run');
  if (run.outcome === null) throw inputError(`run ${number}`, '', 'is still going on; its record is sealed once the bench is vented');
  const entries = store.entriesOf(number);
  const jobs = ofKind(entries, 'job');
  const visuals = ofKind(entries, 'visual-finding');
  const newest = jobs.at(-1)?.entry;
  const job = newest === undefined ? null : jobIn(newest);
  const visual = visuals.at(-1)?.entry ?? null;
  const judgement = judgementOf(run, run.outcome, ofKind(entries, 'judged-again').at(-1) ?? null);
  const assemblies = assemblyResults(judgement.outcome.verdict, job?.assemblies ?? [], visual);
  return { run, entries, jobs, visuals, notes: ofKind(entries, 'note'), job, visual, judgement, assemblies, result: runResult(assemblies) };
}

function judgementOf(run: Run, sealed: Outcome, again: Said<'judged-again'> | null): Judgement {
  if (again === null) return { outcome: sealed, plan: run.plan, thresholds: run.thresholds, again };
  // Entries are sealed as they were checked when they came in; the outcome is the core's own JSON.
  const outcome = again.entry.outcome as unknown as Outcome;
  return { outcome, plan: again.entry.plan, thresholds: again.entry.thresholds, again };
}
