import type { Candidate } from './judging.js';
import { concerns, gravity, type Concern } from './run-change.js';
import type { LibraryAddress } from './run-library.js';
import type { Compared } from './tasks.js';
import { wrongVerdicts } from './wrong-verdicts.js';
import { workThrough, type Step, type WorkOptions } from './work-through.js';

/**
 * Judges every chosen run with the candidate and tells how each comes out beside what is on record, run by run in the
 * order of the library.
 *
 *     for await (const { done, total, run } of whatWouldFlip(address, { thresholds }, { signal }))
 *       if ('result' in run && run.result.change.concern === 'new pass') ...
 */
export const whatWouldFlip = (
  address: LibraryAddress, candidate: Candidate, { whole = false, ...options }: WorkOptions & { /** Give the outcomes whole, too. */ readonly whole?: boolean } = {},
): AsyncGenerator<Step<Compared>> => workThrough(address, { kind: 'compare', candidate, whole }, options);

/** What a comparison comes to. */
export interface FlipSummary {
  /** Runs judged again. */
  readonly judged: number;
  /** Runs whose verdict changes. */
  readonly flips: number;
  readonly byConcern: Readonly<Record<Concern, number>>;
  /** `pass to fail` and so on, with the number of runs; also those that stay. */
  readonly verdicts: Readonly<Record<string, number>>;
  /** New passes of runs known to leak, and new fails of runs known to be sound. */
  readonly againstLabels: number;
  /** Flips that come from another version of the program. */
  readonly byProgram: number;
  /** Runs that could not be judged, a sentence each; the first of them. */
  readonly problems: readonly string[];
  readonly unread: number;
  /** Names of other plans in whose place the candidate's plan was tried. */
  readonly otherPlans: readonly string[];
}

/** Runs kept to be told; a library of any size must fit into memory. */
const keptRuns = 10_000;
const keptProblems = 100;

/** Gathers the steps of a comparison: counts of all, and the runs that change, the gravest first. */
export class FlipReport {
  private judged = 0;
  private unread = 0;
  private againstLabels = 0;
  private byProgram = 0;
  private readonly byConcern = Object.fromEntries(concerns.map((concern) => [concern, 0])) as Record<Concern, number>;
  private readonly verdicts: Record<string, number> = {};
  private readonly problems: string[] = [];
  private readonly otherPlans = new Set<string>();
  private kept: Compared[] = [];

  take({ run }: Step<Compared>): void {
    if ('problem' in run) {
      this.unread++;
      if (this.problems.length < keptProblems) this.problems.push(run.problem);
    }
    if (!('result' in run)) return;
    const { change, otherPlan, byProgram } = run.result;
    this.judged++;
    this.byConcern[change.concern]++;
    const way = `${change.before.verdict} to ${change.after.verdict}`;
    this.verdicts[way] = (this.verdicts[way] ?? 0) + 1;
    if (isAgainstLabel(run.result)) this.againstLabels++;
    if (byProgram) this.byProgram++;
    if (otherPlan !== null && this.otherPlans.size < 20) this.otherPlans.add(otherPlan);
    if (change.concern === 'none') return;
    this.kept.push(run.result);
    if (this.kept.length > 2 * keptRuns) this.kept = this.sorted().slice(0, keptRuns);
  }

  /** Runs that change in any way, at most 10,000 of them: by concern, within one those against what is known of the run first, then in their order. */
  runs(): readonly Compared[] {
    return this.sorted().slice(0, keptRuns);
  }

  summary(): FlipSummary {
    const flips = this.byConcern['new pass'] + this.byConcern['new fail'] + this.byConcern['no longer decided'];
    const { judged, byConcern, verdicts, againstLabels, byProgram, problems, unread } = this;
    return { judged, flips, byConcern: { ...byConcern }, verdicts: { ...verdicts }, againstLabels, byProgram, problems: [...problems], unread, otherPlans: [...this.otherPlans] };
  }

  private sorted(): Compared[] {
    const rank = (run: Compared) => 2 * gravity(run.change) - (isAgainstLabel(run) ? 1 : 0);
    return this.kept.sort((a, b) => rank(a) - rank(b));
  }
}

/** A new verdict that contradicts what is known of the run. */
export function isAgainstLabel({ labels: { truth }, change: { concern } }: Pick<Compared, 'labels' | 'change'>): boolean {
  return truth !== null && wrongVerdicts[truth].some((verdict) => concern === `new ${verdict}`);
}
