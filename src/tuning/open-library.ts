import { closeSync, openSync, readSync, statSync } from 'node:fs';
import { basename, dirname } from 'node:path';
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

/** A folder is a folder of traces, a file of SQLite a store, any other file one trace. */
export function libraryAt(path: string, software: string, { options = {}, instrument, truthful = false }: FolderReading = {}): LibraryAddress {
  const found = statSync(path, { throwIfNoEntry: false });
  const reading = { options, truthful, ...(instrument && { instrument }) };
  if (found?.isDirectory()) return { kind: 'folder', path, ...reading };
  if (found?.isFile() && !isStore(path)) return { kind: 'folder', path: dirname(path), only: basename(path), ...reading };
  return { kind: 'store', path, software };
}

function isStore(path: string): boolean {
  const magic = 'SQLite format 3\0';
  const head = Buffer.alloc(magic.length);
  const file = openSync(path, 'r');
  try {
    // A store that was just made may be empty still.
    return readSync(file, head) === 0 || head.toString('latin1') === magic;
  } finally {
    closeSync(file);
  }
}

/** @throws InputError */
export const openLibrary = (address: LibraryAddress): RunLibrary =>
  address.kind === 'folder' ? new FolderLibrary(address) : new StoreLibrary(address.path, address.software);
