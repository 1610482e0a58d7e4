import { Worker } from 'node:worker_threads';
import type { LibraryAddress, LibraryChoice, RunKey } from './run-library.js';
import { openLibrary } from './open-library.js';
import { doTask, type Done, type ResultOf, type Task } from './tasks.js';

/** What a thread is started with. */
export interface ThreadSetup {
  readonly address: LibraryAddress;
  readonly choice: LibraryChoice;
  readonly task: Task;
}

export interface WorkOptions {
  readonly choice?: LibraryChoice;
  /** Threads beside this one; 0 judges in this one, run by run. Default 1. */
  readonly threads?: number;
  /** Ends the work at once. */
  readonly signal?: AbortSignal;
}

/** One run done, and how far the work is. */
export interface Step<Result> {
  readonly done: number;
  readonly total: number;
  readonly run: Done<Result>;
}

/** Runs that a thread is given ahead, so that it never waits for the next. */
const inHand = 4;
/** Results that may wait for an earlier one, for each thread; beyond it nothing new is begun, so that memory stays flat. */
const ahead = 32;

/**
 * Does a task on every chosen run of a library and gives the results one by one, in the order of the runs. Only as far
 * ahead as whoever takes them: memory does not grow with the library.
 * @throws InputError for a library or choice that is wrong; the signal's reason when it ends the work
 */
export async function* workThrough<T extends Task>(address: LibraryAddress, task: T, options: WorkOptions = {}): AsyncGenerator<Step<ResultOf<T>>> {
  const { choice = {}, threads = 1, signal } = options;
  const library = openLibrary(address);
  try {
    const keys = library.keys(choice);
    signal?.throwIfAborted();
    const all = threads === 0 ? here() : inThreads({ address, choice, task }, keys, Math.min(threads, keys.length), signal);
    let done = 0;
    for await (const run of all) yield { done: ++done, total: keys.length, run: run as Done<ResultOf<T>> };

    async function* here(): AsyncGenerator<Done<unknown>> {
      for (const key of keys) {
        signal?.throwIfAborted();
        yield doTask(library, key, choice, task);
        // Whoever ends the work must get a turn to say so.
        await new Promise((resolve) => setImmediate(resolve));
      }
    }
  } finally {
    library.close();
  }
}

/** A run given to a thread, and what comes back. */
export interface Given {
  readonly index: number;
  readonly key: RunKey;
}
export interface Answer {
  readonly index: number;
  readonly done: Done<unknown>;
}

interface Seat {
  readonly worker: Worker;
  readonly given: Map<number, RunKey>;
}

async function* inThreads(setup: ThreadSetup, keys: readonly RunKey[], threads: number, signal: AbortSignal | undefined): AsyncGenerator<Done<unknown>> {
  const ready = new Map<number, Done<unknown>>();
  const seats = new Set<Seat>();
  let broken: Error | null = null;
  let wake: () => void = () => undefined;
  const hire = (): void => {
    const seat: Seat = { worker: new Worker(new URL('../cli/rejudge-worker.js', import.meta.url), { workerData: setup }), given: new Map() };
    seats.add(seat);
    seat.worker.on('message', ({ index, done }: Answer) => {
      ready.set(index, done);
      seat.given.delete(index);
      wake();
    });
    seat.worker.on('error', (error) => {
      seats.delete(seat);
      // A thread that dies takes only the run it was at with it; one that never began would die again.
      const [first] = seat.given;
      if (first === undefined || seat.given.size === 0) broken = error;
      else {
        ready.set(first[0], { key: first[1], problem: `${String(first[1])}: Dwellkeeper itself failed on this run: ${error.message}` });
        seat.given.delete(first[0]);
        again.push(...[...seat.given].map(([index, key]) => ({ index, key })));
        hire();
      }
      wake();
    });
  };
  const again: Given[] = [];
  const stop = (): void => wake();
  signal?.addEventListener('abort', stop);
  for (let i = 0; i < threads; i++) hire();
  let begun = 0;
  let taken = 0;
  const next = (): Given | undefined => {
    const back = again.shift();
    if (back !== undefined) return back;
    const key = keys[begun];
    return key === undefined || begun >= taken + ahead * threads ? undefined : { index: begun++, key };
  };
  try {
    while (taken < keys.length) {
      signal?.throwIfAborted();
      if (broken !== null) throw broken as Error;
      for (const { worker, given } of seats) {
        while (given.size < inHand) {
          const run = next();
          if (run === undefined) break;
          given.set(run.index, run.key);
          worker.postMessage(run);
        }
      }
      const done = ready.get(taken);
      if (done === undefined) {
        await new Promise<void>((resolve) => (wake = resolve));
        continue;
      }
      ready.delete(taken++);
      yield done;
    }
  } finally {
    signal?.removeEventListener('abort', stop);
    await Promise.all([...seats].map(({ worker }) => worker.terminate()));
  }
}
