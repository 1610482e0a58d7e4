import { Worker } from 'node:worker_threads';
import { InputError, inputError, type Problem } from '../core/problems.js';
import type { DocumentMaker, DocumentSetup } from './document-maker.js';
import type { DocumentRequest, MadeDocument } from './document-request.js';

/** What goes to the thread and what comes back. */
export interface ThreadQuestion {
  readonly id: number;
  readonly request: DocumentRequest;
}
export type ThreadAnswer =
  | { readonly id: number; readonly made: MadeDocument }
  | { readonly id: number; readonly wrong: { readonly source: string; readonly problems: readonly Problem[] } }
  | { readonly id: number; readonly failed: string };

/** Documents that may wait for those before them. */
const waitingAtMost = 30;

interface Waiting {
  readonly resolve: (made: MadeDocument) => void;
  readonly reject: (error: Error) => void;
}

/**
 * Makes documents in a thread of its own: the one that reads the instrument stamps each reading as it arrives, and must
 * never wait for a page to be drawn.
 */
export class DocumentThread implements DocumentMaker {
  private worker: Worker | null = null;
  private readonly waiting = new Map<number, Waiting>();
  private asked = 0;

  constructor(private readonly setup: DocumentSetup) {}

  make(request: DocumentRequest): Promise<MadeDocument> {
    if (this.waiting.size >= waitingAtMost) return Promise.reject(inputError('documents', '', 'too many are being made at this moment; try again in a minute'));
    const question: ThreadQuestion = { id: ++this.asked, request };
    return new Promise((resolve, reject) => {
      this.waiting.set(question.id, { resolve, reject });
      this.worker ??= this.hire();
      this.worker.postMessage(question);
    });
  }

  async close(): Promise<void> {
    const { worker } = this;
    this.worker = null;
    this.fail('the program is ending');
    await worker?.terminate();
  }

  private hire(): Worker {
    const worker = new Worker(new URL('../cli/certificate-worker.js', import.meta.url), { workerData: this.setup });
    // It must not keep the program alive.
    worker.unref();
    worker.on('message', (answer: ThreadAnswer) => this.take(answer));
    worker.on('error', (error) => this.lost(worker, error.message));
    worker.on('exit', () => this.lost(worker, 'its thread ended'));
    return worker;
  }

  private take(answer: ThreadAnswer): void {
    const asked = this.waiting.get(answer.id);
    this.waiting.delete(answer.id);
    if ('made' in answer) asked?.resolve(answer.made);
    else asked?.reject('wrong' in answer ? new InputError(answer.wrong.source, answer.wrong.problems) : new Error(answer.failed));
  }

  /** The next document gets a fresh thread. */
  private lost(worker: Worker, why: string): void {
    if (this.worker !== worker) return;
    this.worker = null;
    this.fail(why);
  }

  private fail(why: string): void {
    for (const { reject } of this.waiting.values()) reject(new Error(`the document was not made: ${why}`));
    this.waiting.clear();
  }
}
