import { parentPort, workerData } from 'node:worker_threads';
import { openLibrary } from '../tuning/open-library.js';
import { doTask } from '../tuning/tasks.js';
import type { Answer, Given, ThreadSetup } from '../tuning/work-through.js';

const { address, choice, task } = workerData as ThreadSetup;
const library = openLibrary(address);

parentPort?.on('message', ({ index, key }: Given) => {
  parentPort?.postMessage({ index, done: doTask(library, key, choice, task) } satisfies Answer);
});
