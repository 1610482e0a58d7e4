import { Worker } from 'node:worker_threads';
import type { ImportOptions } from '../core/import/import-options.js';
import type { JudgeAnswer, JudgeJob } from './judge-worker.js';

/** Answers that may wait for an earlier one, for each thread; beyond it nothing new is begun, so that memory stays flat. */
const ahead = 32;

/** One thread and what it works on. */
interface Seat {
  readonly worker: Worker;
  job: JudgeJob | undefined;
}

/**
 * Judges traces on several threads and hands out the answers in the order of the jobs.
 * @param take is awaited, so that a slow reader of the output slows the judging down
 */
export async function judgeAll(
  jobs: readonly JudgeJob[],
  threads: number,
  options: ImportOptions,
  take: (answer: JudgeAnswer) => Promise<void>,
): Promise<void> {
  const ready = new Map<number, JudgeAnswer>();
  const seats = new Set<Seat>();
  let broken: Error | undefined;
  let wake: () => void = () => undefined;

  const hire = (): void => {
    const seat: Seat = { worker: new Worker(new URL('./judge-worker.js', import.meta.url), { workerData: options }), job: undefined };
    seats.add(seat);
    seat.worker.on('message', (answer: JudgeAnswer) => {
      ready.set(answer.index, answer);
      seat.job = undefined;
      wake();
    });
    seat.worker.on('error', (error) => {
      seats.delete(seat);
      // A thread that dies takes only its own trace with it; one that never began would die again.
      if (seat.job === undefined) broken = error;
      else {
        ready.set(seat.job.index, { index: seat.job.index, verdict: null, line: failureLine(seat.job, error) });
        hire();
      }
      wake();
    });
  };
  for (let i = 0; i < Math.min(threads, jobs.length); i++) hire();

  let begun = 0;
  let taken = 0;
  try {
    while (taken < jobs.length) {
      if (broken) throw broken;
      for (const seat of seats) {
        const job = jobs[begun];
        if (seat.job !== undefined || job === undefined || begun >= taken + ahead * threads) continue;
        seat.job = job;
        seat.worker.postMessage(job);
        begun++;
      }
      const next = ready.get(taken);
      if (next) {
        ready.delete(taken++);
        await take(next);
      } else await new Promise<void>((resolve) => (wake = resolve));
    }
  } finally {
    await Promise.all([...seats].map(({ worker }) => worker.terminate()));
  }
}

const failureLine = (job: JudgeJob, error: Error): string =>
  JSON.stringify({ file: job.file, error: `Dwellkeeper itself failed on this file: ${error.message}` });
