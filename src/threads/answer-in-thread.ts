import { parentPort } from 'node:worker_threads';
import { InputError } from '../core/problems.js';
import type { ThreadAnswer, ThreadQuestion } from './asked-thread.js';

/** The other end of an `AskedThread`: one question after the other, as two at once would only need twice the memory. */
export function answerInThread<Question, Answer>(work: (question: Question) => Promise<Answer>): void {
  const answer = async ({ id, question }: ThreadQuestion<Question>): Promise<ThreadAnswer<Answer>> => {
    try {
      return { id, answer: await work(question) };
    } catch (error) {
      if (error instanceof InputError) return { id, wrong: { source: error.source, problems: error.problems } };
      return { id, failed: error instanceof Error ? error.message : String(error) };
    }
  };
  let before: Promise<unknown> = Promise.resolve();
  parentPort?.on('message', (question: ThreadQuestion<Question>) => {
    before = before.then(async () => parentPort?.postMessage(await answer(question)));
  });
}
