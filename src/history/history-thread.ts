import { AskedThread } from '../threads/asked-thread.js';
import type { History, HistoryAnswer, HistoryQuestion } from './history-question.js';
import type { HistorySetup } from './store-history.js';

/** A question with the bench that it is about. */
export interface BenchQuestion {
  readonly bench: string;
  readonly question: HistoryQuestion;
}

/** Answers questions about runs in a thread of its own. */
export class HistoryThread implements History {
  private readonly thread: AskedThread<BenchQuestion, HistoryAnswer>;

  constructor(setup: HistorySetup) {
    this.thread = new AskedThread({
      file: new URL('../cli/history-worker.js', import.meta.url), workerData: setup, what: 'history', lost: 'the question was not answered', most: 60,
    });
  }

  ask(bench: string, question: HistoryQuestion): Promise<HistoryAnswer> {
    return this.thread.ask({ bench, question });
  }

  close(): Promise<void> {
    return this.thread.close();
  }
}
