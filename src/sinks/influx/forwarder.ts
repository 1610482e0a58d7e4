import type { Logger } from 'pino';
import type { Failure } from './answer.js';
import type { Database } from './connection.js';
import { freshCursor, type Cursor } from './cursor.js';
import { deliver } from './deliver.js';
import { Forwarded, type ForwarderState } from './forwarded.js';
import type { HealthLog, HealthPoint } from './health-log.js';
import type { RefusedLines } from './refused-lines.js';
import type { SampleBounds } from './sample-spool.js';
import type { Engine } from './settings.js';
import { placeOf, type Batch, type Spool } from './spool.js';
import { aDay } from './stamps.js';
import { Trail } from './trail.js';

export interface ForwarderSetup {
  /** Name of the database for people. */
  readonly target: string;
  readonly spool: Spool;
  readonly database: Database;
  readonly refused: RefusedLines;
  readonly health: HealthLog | null;
  /** s */ readonly backlog: number;
  /** s */ readonly thinnedTo: number;
  readonly pointsPerSecond: number;
  readonly log: Pick<Logger, 'info' | 'warn'>;
  /** ms since 1970 */
  readonly now?: () => number;
  readonly pace?: Partial<Pace>;
}

/** ms */
interface Pace {
  /** Between two looks at a store that is forwarded whole. */
  readonly look: number;
  /** After the first failure, doubled with each further one up to the longest. */
  readonly firstRetry: number;
  readonly longestRetry: number;
  /** That what was acknowledged needs to be beyond doubt: a database that dies may have had it in memory only. */
  readonly settle: number;
}

const usualPace: Pace = { look: 1000, firstRetry: 1000, longestRetry: 60_000, settle: 60_000 };
/** ms of silence after which the database may have been away, though nobody saw it refuse. */
const perhapsAway = 10_000;
/** Samples in one batch: built in a few ms, so that the bench is never kept waiting. */
const batchSamples = 2000;

/** What is on its way: the same again until it has arrived. */
interface Pending {
  readonly batch: Batch;
  readonly health: readonly HealthPoint[];
  readonly lines: readonly string[];
}

/**
 * Copies the store into a database, in order, from where it stopped. A cursor is moved and kept only once what lies
 * before it has arrived; whatever is sent again after a crash gives the same points. Holds one batch in memory, however
 * long the database is away.
 */
export class Forwarder {
  private readonly forwarded: Forwarded;
  private readonly pace: Pace;
  private readonly bounds: SampleBounds;
  private readonly now: () => number;
  private cursor: Cursor;
  private trail: Trail;
  private failingSince = 0;
  private unsaved = false;
  private engine: Engine | null = null;
  private pending: Pending | null = null;
  private failures = 0;
  private stopped = false;
  private wake: () => void = () => undefined;
  private ended: Promise<void> = Promise.resolve();

  constructor(private readonly setup: ForwarderSetup) {
    this.now = setup.now ?? Date.now;
    this.pace = { ...usualPace, ...setup.pace };
    this.bounds = { samples: Math.min(batchSamples, setup.pointsPerSecond), backlog: setup.backlog, thinnedTo: setup.thinnedTo };
    this.cursor = setup.spool.load() ?? freshCursor();
    this.trail = new Trail(this.cursor, this.pace.settle);
    this.forwarded = new Forwarded(setup.target);
  }

  start(): void {
    this.ended = this.run();
  }

  /** Stops at once; what is on its way is sent again at the next start. The spool is closed. */
  async stop(): Promise<void> {
    if (this.stopped) return;
    this.stopped = true;
    this.wake();
    this.setup.spool.close();
    // The loop touches nothing any more; a request that hangs is not waited for.
    await Promise.race([this.ended, new Promise((resolve) => setTimeout(resolve, 100))]);
  }

  state(): ForwarderState {
    if (!this.stopped) this.look();
    return this.forwarded.state();
  }

  /** What people should know, in one sentence each; `null` while there is nothing to tell. */
  notices(): { readonly behind: string | null; readonly leftOut: string | null } {
    return { behind: this.forwarded.behindSentence(), leftOut: this.forwarded.leftOutSentence(this.setup.refused.path) };
  }

  private async run(): Promise<void> {
    while (!this.stopped) {
      let pause: number;
      try {
        pause = await this.step();
      } catch (error) {
        pause = this.later(`the store cannot be read (${error instanceof Error ? error.message : String(error)})`);
      }
      if (!this.isOver()) await this.sleep(pause);
    }
  }

  /** One batch. @returns ms until the next step */
  private async step(): Promise<number> {
    const { spool, database, health } = this.setup;
    if (this.now() < spool.begun() - aDay) return this.later('the clock of this computer is not set yet');
    this.engine ??= await this.prepare();
    const { engine } = this;
    if (engine === null || this.isOver()) return this.retryDelay();
    this.keepSettled();
    const began = performance.now();
    this.pending ??= this.collect(engine);
    const spent = performance.now() - began;
    const { batch, lines } = this.pending;
    if (lines.length > 0) {
      const delivery = await deliver(lines, (part) => database.write(part, engine));
      if (this.isOver()) return 0;
      if (delivery.kind !== 'delivered') return this.failed(delivery);
      if (delivery.refused.length > 0) this.setup.refused.keep(delivery.refused);
      this.forwarded.arrived(lines.length - delivery.refused.length, delivery.refused, this.now());
      this.reached();
    }
    this.forwarded.passed(batch, placeOf(batch.cursor));
    health?.sent(this.pending.health);
    this.pending = null;
    this.cursor = batch.cursor;
    if (batch.moved) this.trail.add(batch.cursor, performance.now());
    this.keepSettled();
    // At most half the time is spent on forwarding, so that the bench beside it is never slowed down.
    return batch.more ? Math.max(spent, (lines.length / this.setup.pointsPerSecond) * 1000 - (performance.now() - began)) : this.pace.look;
  }

  private collect(engine: Engine): Pending {
    const batch = this.setup.spool.next(this.cursor, engine, this.bounds, this.now());
    const health = this.setup.health?.waiting() ?? [];
    return { batch, health, lines: [...batch.lines, ...(this.setup.health?.lines(health, engine) ?? [])] };
  }

  private async prepare(): Promise<Engine | null> {
    const found = await this.setup.database.prepare();
    if (this.isOver()) return null;
    if ('kind' in found) {
      this.failed(found);
      return null;
    }
    const { engine } = found;
    if (this.cursor.engine !== null && this.cursor.engine !== engine) {
      this.setup.log.warn({ target: this.setup.target, was: this.cursor.engine, is: engine }, 'another database answers at this address: all is sent from the beginning');
      this.begin({ ...freshCursor(), engine });
    } else if (this.cursor.engine === null) {
      this.begin({ ...this.cursor, engine });
    }
    return engine;
  }

  private begin(cursor: Cursor): void {
    this.cursor = cursor;
    this.trail = new Trail(cursor, this.pace.settle);
    this.pending = null;
  }

  /** A save that fails, on a full disk or while the store is held, is tried again; until then more is sent again after a crash. */
  private keepSettled(): void {
    const moved = this.trail.settle(performance.now());
    if (!moved && !this.unsaved) return;
    try {
      this.setup.spool.save(this.trail.base);
      this.unsaved = false;
    } catch (error) {
      if (!this.unsaved) this.setup.log.warn({ target: this.setup.target }, `how far the store is forwarded could not be noted (${error instanceof Error ? error.message : String(error)})`);
      this.unsaved = true;
    }
  }

  private failed(answer: Failure): number {
    // Login and database are looked at anew: somebody may have changed them.
    if (answer.kind === 'closed' || answer.kind === 'no-database') this.engine = null;
    if (this.failures === 0) this.failingSince = performance.now();
    // A database that is gone, not only slow, may have forgotten what it had in memory.
    const away = answer.kind === 'no-database' || (answer.kind === 'later' && answer.gone === true) || performance.now() - this.failingSince > perhapsAway;
    if (away) this.rewind();
    return this.later(answer.kind === 'no-database' ? 'its database is gone and is made anew' : answer.why);
  }

  private rewind(): void {
    this.cursor = this.trail.rewind();
    this.pending = null;
  }

  private later(why: string): number {
    if (this.failures === 0) this.setup.log.warn({ target: this.setup.target }, `not forwarded: ${why}`);
    this.failures++;
    this.forwarded.failed(why, this.now());
    return this.retryDelay();
  }

  private reached(): void {
    if (this.failures > 0) this.setup.log.info({ target: this.setup.target, failures: this.failures }, 'forwarding again');
    this.failures = 0;
  }

  /** Doubling, with chance in it, so that fifty benches do not all come back at the same moment. */
  private retryDelay(): number {
    const { firstRetry, longestRetry } = this.pace;
    return Math.min(longestRetry, firstRetry * 2 ** Math.min(20, Math.max(0, this.failures - 1))) * (0.5 + Math.random() / 2);
  }

  private look(): void {
    try {
      this.forwarded.waiting = this.setup.spool.behind(this.cursor);
    } catch {
      // A store that cannot be read just now: the last figures stand, and the loop tells.
    }
  }

  private isOver(): boolean {
    return this.stopped;
  }

  private sleep(pause: number): Promise<void> {
    return new Promise((resolve) => {
      const timer = setTimeout(resolve, pause);
      this.wake = () => {
        clearTimeout(timer);
        resolve();
      };
    });
  }
}
