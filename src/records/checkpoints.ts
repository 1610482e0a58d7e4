import type Database from 'better-sqlite3';
import { retryAfter } from './open-file.js';
import type { StoreThread } from './store-thread.js';

export interface CheckpointsSetup {
  /** `null`: the file is only read. */
  readonly path: string | null;
  readonly thread: StoreThread;
  /** The file that is open at this moment. */
  readonly db: () => Database.Database;
}

/** s between two moments at which the write-ahead log is emptied into the file. */
const every = 10;

/** Empties the write-ahead log into the file now and then, as far as no reader holds it; never waits for one. */
export class Checkpoints {
  private last = -Infinity;

  constructor(private readonly setup: CheckpointsSetup) {}

  /** Call about once a second with the present time (s). Never throws: a full or failing disk shows at the next commit, and the log stays valid as it is. */
  tick(now: number): void {
    if (now - this.last < every) return;
    this.last = now;
    const { path, thread } = this.setup;
    if (path === null || !thread.isThere) return this.here();
    if (!thread.isInFile) thread.checkpoint(path).catch(() => undefined);
  }

  private here(): void {
    const db = this.setup.db();
    try {
      db.pragma('busy_timeout = 0');
      db.pragma('wal_checkpoint(TRUNCATE)');
    } catch {
      // As in `tick`.
    } finally {
      db.pragma(`busy_timeout = ${retryAfter}`);
    }
  }
}
