import { parentPort, workerData } from 'node:worker_threads';
import { documentMaker, type DocumentSetup } from '../certificate/document-maker.js';
import type { ThreadAnswer, ThreadQuestion } from '../certificate/document-thread.js';
import { InputError } from '../core/problems.js';

const documents = documentMaker(workerData as DocumentSetup);

async function answer({ id, request }: ThreadQuestion): Promise<ThreadAnswer> {
  try {
    return { id, made: await documents.make(request) };
  } catch (error) {
    if (error instanceof InputError) return { id, wrong: { source: error.source, problems: error.problems } };
    return { id, failed: error instanceof Error ? error.message : String(error) };
  }
}

// One after the other: two at once would only need twice the memory.
let before: Promise<unknown> = Promise.resolve();
parentPort?.on('message', (question: ThreadQuestion) => {
  before = before.then(async () => parentPort?.postMessage(await answer(question)));
});
