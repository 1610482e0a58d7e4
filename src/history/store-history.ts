import { InputError } from '../core/problems.js';
import { openStore, type Store } from '../records/store.js';
import { answerQuestion } from './answer-question.js';
import type { History } from './history-question.js';

export interface HistorySetup {
  /** Path of the store. */
  readonly store: string;
  readonly software: string;
}

/** ms that a store stays open after an answer: a trace that is pulled along asks many times a second. */
const keptOpen = 2000;

/**
 * Answers in the thread that asks. The store is let go soon after the last question, so that a file which was replaced is
 * not read for long.
 */
export function storeHistory({ store: path, software }: HistorySetup): History {
  let open: Store | null = null;
  let closing: NodeJS.Timeout | undefined;
  const letGo = (): void => {
    clearTimeout(closing);
    open?.close();
    open = null;
  };
  return {
    ask: (bench, question) => {
      // What is thrown becomes a rejected promise.
      return new Promise((resolve) => {
        clearTimeout(closing);
        try {
          open ??= openStore(path, { software, readOnly: true }).store;
          resolve(answerQuestion(open, bench, question));
        } catch (error) {
          if (!(error instanceof InputError)) letGo();
          throw error;
        } finally {
          closing = setTimeout(letGo, keptOpen);
          closing.unref();
        }
      });
    },
    close: () => {
      letGo();
      return Promise.resolve();
    },
  };
}
