import { workerData } from 'node:worker_threads';
import type { BenchQuestion } from '../history/history-thread.js';
import { storeHistory, type HistorySetup } from '../history/store-history.js';
import { answerInThread } from '../threads/answer-in-thread.js';

const history = storeHistory(workerData as HistorySetup);

answerInThread(({ bench, question }: BenchQuestion) => history.ask(bench, question));
