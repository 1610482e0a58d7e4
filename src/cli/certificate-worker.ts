import { workerData } from 'node:worker_threads';
import { documentMaker, type DocumentSetup } from '../certificate/document-maker.js';
import type { DocumentRequest } from '../certificate/document-request.js';
import { answerInThread } from '../threads/answer-in-thread.js';

const documents = documentMaker(workerData as DocumentSetup);

answerInThread((request: DocumentRequest) => documents.make(request));
