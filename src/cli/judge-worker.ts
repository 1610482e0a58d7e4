import { parentPort, workerData } from 'node:worker_threads';
import type { ImportOptions } from '../core/import/import-options.js';
import { worstVerdict, type Verdict } from '../core/outcome.js';
import { InputError } from '../core/problems.js';
import { judgeFile, readPlanFile, readThresholdsFile } from './judge-file.js';

/** One trace to judge; paths as they were given. */
export interface JudgeJob {
  readonly index: number;
  /** Name of the file inside its folder, for the answer. */
  readonly file: string;
  readonly trace: string;
  readonly plan: string | undefined;
  readonly thresholds: string | undefined;
}

/** A line of JSON for one trace; `verdict` is `null` where it could not be judged. */
export interface JudgeAnswer {
  readonly index: number;
  readonly line: string;
  readonly verdict: Verdict | null;
}

function answer(job: JudgeJob, options: ImportOptions): JudgeAnswer {
  try {
    if (job.plan === undefined) {
      const wanted = job.file.replace(/\.csv$/i, '.plan.yaml');
      throw new InputError(job.trace, [{ place: '', text: `has no plan beside it; add ${wanted} or give one for all with --plan` }]);
    }
    const { outcomes } = judgeFile(job.trace, readPlanFile(job.plan), readThresholdsFile(job.thresholds), options);
    const verdict = worstVerdict(outcomes.map((outcome) => outcome.verdict));
    const content = outcomes.length === 1 ? outcomes[0] : { verdict, runs: outcomes };
    return { index: job.index, verdict, line: JSON.stringify({ file: job.file, ...content }) };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { index: job.index, verdict: null, line: JSON.stringify({ file: job.file, error: error.message }) };
  }
}

parentPort?.on('message', (job: JudgeJob) => parentPort?.postMessage(answer(job, workerData as ImportOptions)));
