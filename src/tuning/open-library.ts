import { statSync } from 'node:fs';
import type { ImportOptions } from '../core/import/import-options.js';
import type { Instrument } from '../core/trace.js';
import { FolderLibrary } from './folder-library.js';
import type { LibraryAddress, RunLibrary } from './run-library.js';
import { StoreLibrary } from './store-library.js';

/** What a folder of traces leaves open. */
export interface FolderReading {
  readonly options?: ImportOptions;
  readonly instrument?: Instrument;
  /** Take the instrument of a trace from its NAME.truth.json. */
  readonly truthful?: boolean;
}

/** A folder is a folder of traces, anything else a store. */
export function libraryAt(path: string, software: string, { options = {}, instrument, truthful = false }: FolderReading = {}): LibraryAddress {
  const folder = statSync(path, { throwIfNoEntry: false })?.isDirectory() ?? false;
  return folder ? { kind: 'folder', path, options, truthful, ...(instrument && { instrument }) } : { kind: 'store', path, software };
}

/** @throws InputError */
export const openLibrary = (address: LibraryAddress): RunLibrary =>
  address.kind === 'folder' ? new FolderLibrary(address) : new StoreLibrary(address.path, address.software);
