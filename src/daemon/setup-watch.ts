import { statSync } from 'node:fs';
import type { Bench } from '../acquisition/bench-file.js';
import { InputError } from '../core/problems.js';
import { readPlan, readThresholds, type JudgingSetup } from './bench-setup.js';

/** What the watch tells. */
export interface SetupNews {
  /** Files that are right and have been at rest. */
  changed(judging: JudgingSetup): void;
  /** What is wrong with a changed file; `null` when it is right again. The setup before it stays in force meanwhile. */
  problem(text: string | null): void;
}

/** A file as it was last seen; two of the same in a row mean that nobody is writing it just now. */
const look = (path: string): string => {
  const found = statSync(path, { throwIfNoEntry: false });
  return found === undefined ? 'missing' : `${found.mtimeMs} ${found.size} ${found.ino}`;
};

/**
 * Sees when somebody edits the plan or the thresholds of a bench, so that the next run is judged by them. `poll` is to
 * be called about once a second; a file counts once two looks in a row found it the same, so that a half-written plan
 * is never taken for a whole one.
 */
export class SetupWatch {
  private readonly paths: readonly string[];
  private seen: readonly string[];
  private applied: readonly string[];

  constructor(
    private readonly bench: Bench,
    private judging: JudgingSetup,
    private readonly news: SetupNews,
  ) {
    this.paths = [bench.plan, bench.thresholds].filter((path) => path !== undefined);
    this.seen = this.applied = this.paths.map(look);
  }

  poll(): void {
    const now = this.paths.map(look);
    const atRest = now.every((state, i) => state === this.seen[i]);
    this.seen = now;
    if (!atRest || now.every((state, i) => state === this.applied[i])) return;
    this.applied = now;
    try {
      const { plan, thresholds } = this.bench;
      this.judging = {
        plan: plan === undefined ? this.judging.plan : readPlan(plan),
        thresholds: thresholds === undefined ? this.judging.thresholds : readThresholds(thresholds),
      };
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      this.news.problem(`the changed file is not used, the one before it stays in force: ${error.message.split('\n').join('; ')}`);
      return;
    }
    this.news.problem(null);
    this.news.changed(this.judging);
  }
}
