import { canonicalJson } from '../records/canonical-json.js';
import type { Thresholds } from '../core/thresholds.js';
import type { Candidate } from './judging.js';
import type { LibraryAddress } from './run-library.js';
import type { RunLabels } from '../records/run-labels.js';
import type { Marked } from './sweep-marks.js';
import { workThrough, type WorkOptions } from './work-through.js';

/** A labelled run, with the marks of every candidate. */
export interface LabelledRun {
  readonly name: string;
  readonly group: string;
  readonly labels: RunLabels;
  readonly marks: readonly Marked[];
}

/** What is known of a library for tuning. */
export interface LabelledSet {
  readonly runs: readonly LabelledRun[];
  readonly unlabelled: number;
  /** Different thresholds that the labelled runs were judged by. */
  readonly own: readonly Thresholds[];
  /** Runs that could not be judged, a sentence each. */
  readonly problems: readonly string[];
}

export interface GatherOptions extends WorkOptions {
  readonly progress?: (done: number, total: number) => void;
}

/** Judges every labelled run by every candidate; the readings of a run are read once. @throws InputError */
export async function gatherLabelled(address: LibraryAddress, candidates: readonly Candidate[], { progress, ...options }: GatherOptions = {}): Promise<LabelledSet> {
  const runs: LabelledRun[] = [];
  const problems: string[] = [];
  const own = new Map<string, Thresholds>();
  let unlabelled = 0;
  for await (const { done, total, run } of workThrough(address, { kind: 'mark', candidates }, options)) {
    progress?.(done, total);
    if ('problem' in run) problems.push(run.problem);
    if (!('result' in run)) continue;
    const { name, group, labels, marks, own: thresholds } = run.result;
    if (marks.length === 0) {
      unlabelled++;
      continue;
    }
    runs.push({ name, group, labels, marks });
    if (own.size < 20) own.set(canonicalJson(thresholds), thresholds);
  }
  return { runs, unlabelled, own: [...own.values()], problems };
}
