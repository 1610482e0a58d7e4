import { AskedThread } from '../threads/asked-thread.js';
import type { DocumentMaker, DocumentSetup } from './document-maker.js';
import type { DocumentRequest, MadeDocument } from './document-request.js';

/** Makes documents in a thread of its own. */
export class DocumentThread implements DocumentMaker {
  private readonly thread: AskedThread<DocumentRequest, MadeDocument>;

  constructor(setup: DocumentSetup) {
    this.thread = new AskedThread({
      file: new URL('../cli/certificate-worker.js', import.meta.url), workerData: setup, what: 'documents', lost: 'the document was not made', most: 30,
    });
  }

  make(request: DocumentRequest): Promise<MadeDocument> {
    return this.thread.ask(request);
  }

  close(): Promise<void> {
    return this.thread.close();
  }
}
