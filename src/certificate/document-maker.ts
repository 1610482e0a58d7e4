import { openStore } from '../records/store.js';
import type { DocumentRequest, MadeDocument } from './document-request.js';
import { makeDocument } from './make-document.js';
import type { Shop } from './shop.js';

/** Makes documents of one store. */
export interface DocumentMaker {
  /** @throws InputError for a run or order that is not there, or a run that is still going on */
  make(request: DocumentRequest): Promise<MadeDocument>;
  close(): Promise<void>;
}

export interface DocumentSetup {
  /** Path of the store. */
  readonly store: string;
  readonly software: string;
  readonly shop: Shop;
}

/** Makes them in the thread that asks. The store is opened for each, so that nothing of it is held in between. */
export const documentMaker = ({ store: path, software, shop }: DocumentSetup): DocumentMaker => ({
  make: async (request) => {
    const { store } = openStore(path, { software, readOnly: true });
    try {
      return await makeDocument(store, request, shop);
    } finally {
      store.close();
    }
  },
  close: () => Promise.resolve(),
});
