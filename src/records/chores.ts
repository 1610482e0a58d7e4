import Database from 'better-sqlite3';
import { mergeBlocks, type Merged } from './merge-blocks.js';

/** Work of a store that needs none of its state, so that another thread can do it. */
export type Chore =
  | { readonly merge: readonly Uint8Array[] }
  /** Path of the store. */
  | { readonly checkpoint: string };

export type ChoreDone = { readonly merged: Merged } | { readonly checkpointed: true };

export function doChore(chore: Chore): ChoreDone {
  if ('merge' in chore) return { merged: mergeBlocks(chore.merge) };
  checkpointBeside(chore.checkpoint);
  return { checkpointed: true };
}

/**
 * Moves what lies in the write-ahead log into the file, by a connection of its own: a passive checkpoint keeps no writer
 * and no reader waiting (https://www.sqlite.org/c3ref/wal_checkpoint_v2.html). The writer then begins the log anew.
 */
function checkpointBeside(path: string): void {
  const db = new Database(path, { fileMustExist: true, timeout: 0 });
  try {
    db.pragma('wal_checkpoint(PASSIVE)');
  } finally {
    db.close();
  }
}
