import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { AskedThread } from '../threads/asked-thread.js';
import type { Chore, ChoreDone } from './chores.js';
import type { Merged } from './merge-blocks.js';

/** Questions that may be open: one merge and one checkpoint. */
const most = 2;
/** ms: a merge takes a fraction of a second, moving a full log on to a poor memory card some ten. */
const patience = 300_000;

/**
 * The thread beside a store that records: it does what takes long, so that no reading has to wait for it. It begins with
 * the first chore. Where it cannot be had (`isThere`) its owner does the same by itself.
 */
export class StoreThread {
  private readonly thread: AskedThread<Chore, ChoreDone> | null;
  private there: boolean;
  private proven = false;
  private ended = false;
  private checkpoints = 0;

  /** @param file what the thread runs; without it there is none */
  constructor(file: URL | undefined) {
    this.there = file !== undefined && existsSync(fileURLToPath(file));
    this.thread = file === undefined ? null : new AskedThread({ file, workerData: null, what: 'chores', lost: 'it was not done', most, patience });
  }

  get isThere(): boolean {
    return this.there && !this.ended;
  }

  /** A checkpoint is going on: the file must not be put aside, nor another put in its place. */
  get isInFile(): boolean {
    return this.checkpoints > 0;
  }

  /** @throws Error when it was not done: the thread died, or what it did failed */
  async merge(contents: readonly Uint8Array[]): Promise<Merged> {
    const done = await this.ask({ merge: contents });
    if (!('merged' in done)) throw new Error('the thread answered another question');
    return done.merged;
  }

  /** @throws Error as `merge` */
  async checkpoint(path: string): Promise<void> {
    this.checkpoints++;
    try {
      await this.ask({ checkpoint: path });
    } finally {
      this.checkpoints--;
    }
  }

  /** No chore is done from here on. */
  end(): void {
    this.ended = true;
    void this.thread?.close();
  }

  private async ask(chore: Chore): Promise<ChoreDone> {
    try {
      if (this.thread === null) throw new Error('there is no thread');
      const done = await this.thread.ask(chore);
      this.proven = true;
      return done;
    } catch (error) {
      // One that never did anything will not do so the next time.
      if (!this.proven && !this.ended) this.there = false;
      throw error;
    }
  }
}
