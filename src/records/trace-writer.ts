import type Database from 'better-sqlite3';
import type { Conversion } from '../core/conversion.js';
import type { Mark } from '../core/trace.js';
import type { Samples } from './block-codec.js';
import type { BlockTable } from './block-table.js';
import { isDamage } from './damage.js';
import { SampleBuffer } from './sample-buffer.js';

/** Why samples are not on disk yet. */
export interface RecordingTrouble {
  readonly code: 'disk-full' | 'disk-error' | 'read-only' | 'busy' | 'damaged';
  readonly sentence: string;
  /** s, time of the oldest sample that waits. */
  readonly since: number;
  /** Samples that wait in memory. */
  readonly waiting: number;
  /** Samples given up since the trouble began because too many waited. */
  readonly lost: number;
}

/** s of data that one commit holds: so much may be lost when the power goes. */
const commitSpan = 1;
const commitCount = 8192;
/** s: a block of late samples is cut here, and where time steps back by more than a commit. */
const blockSpan = 60;

/** What the writer needs of the store. */
export interface WriterSetup {
  readonly db: Database.Database;
  readonly blocks: BlockTable;
  readonly channel: number;
  readonly segment: number;
  /** How pressures follow from the raw readings, where that is known. */
  readonly conversion?: Conversion;
  /** Samples that may wait in memory while the disk refuses; the oldest go first beyond that, and a gap is marked. */
  readonly limit: number;
  /** Commits what waits in this writer, and in those beside it that are well. @returns whether all of this one is safe then */
  readonly commit: (writer: TraceWriter) => boolean;
}

/**
 * Writes one channel. `append` only buffers; every second of samples is committed as one block, synced to the disk,
 * together with what waits in the other writers of the store.
 * Trouble with the disk never throws: the samples wait in memory, `trouble` tells, and each `tick` tries again.
 */
export class TraceWriter {
  private readonly buffer = new SampleBuffer();
  private marks: Mark[] = [];
  private position: number;
  private lost = 0;
  private lostFrom = NaN;
  private lostTo = NaN;
  private failed: { code: RecordingTrouble['code']; sentence: string } | null = null;
  private insertMark;

  constructor(private setup: WriterSetup) {
    this.position = setup.blocks.nextPosition(setup.channel);
    this.insertMark = insertMarkInto(setup.db);
  }

  /** Goes on in another file, with all that waits. */
  moveTo(db: Database.Database, blocks: BlockTable, segment: number): void {
    this.setup = { ...this.setup, db, blocks, segment };
    this.position = blocks.nextPosition(this.setup.channel);
    this.insertMark = insertMarkInto(db);
  }

  get channel(): number {
    return this.setup.channel;
  }

  /** `null` while everything older than a second is safe on the disk. */
  get trouble(): RecordingTrouble | null {
    if (!this.failed) return null;
    return { ...this.failed, since: this.buffer.timeAt(0), waiting: this.buffer.length, lost: this.lost };
  }

  /**
   * Takes one sample, in the order received; times may stand still or step back.
   * @param time s on the store's clock, finite. @param pressure bar; NaN where nothing could be read.
   * @param raw the reading before calibration, in the instrument's unit; leave out where there is none.
   */
  append(time: number, pressure: number, flags: number, raw?: number): void {
    if (!Number.isFinite(time)) throw new RangeError(`a sample needs a finite time, got ${time}`);
    // While the disk refuses, only `tick` tries again, so that a fast channel is not slowed down by every sample.
    if (!this.failed && this.isDue(time)) this.flush();
    if (this.buffer.length >= this.setup.limit) this.giveUpOldest();
    this.buffer.push(time, pressure, flags, raw);
  }

  /** Puts a mark into the trace; on the disk with the next commit. */
  mark(mark: Mark): void {
    this.marks.push(mark);
  }

  /** Whether something has waited for a second at the present time (s), or was refused and is to be tried again. */
  isOverdue(now: number): boolean {
    return this.failed !== null || this.isDue(now) || (this.buffer.length === 0 && this.marks.length > 0);
  }

  private isDue(now: number): boolean {
    const n = this.buffer.length;
    return n >= commitCount || (n > 0 && Math.abs(now - this.buffer.timeAt(0)) >= commitSpan);
  }

  /** Commits all that waits. @returns whether everything appended so far is safe on the disk. */
  flush(): boolean {
    return this.setup.commit(this);
  }

  get isWaiting(): boolean {
    return this.buffer.length > 0 || this.marks.length > 0;
  }

  /** What waits: samples and marks not yet in the file. */
  waiting(): { samples: Samples; marks: readonly Mark[] } {
    return { samples: this.slice(0, this.buffer.length), marks: this.marks };
  }

  private slice(from: number, to: number): Samples {
    const { conversion } = this.setup;
    return { ...this.buffer.slice(from, to), ...(conversion && { conversion }) };
  }

  /** Writes all that waits; call within a transaction, then `committed` or `refused`. @returns the position after it */
  write(): number {
    const { blocks, channel, segment } = this.setup;
    let position = this.position;
    for (let from = 0; from < this.buffer.length; ) {
      const to = this.cut(from);
      blocks.insert({ channel, segment, position, tier: 0 }, this.slice(from, to));
      position += to - from;
      from = to;
    }
    if (this.lost > 0) {
      const text = `${this.lost} samples could not be stored`;
      this.insertMark.run(channel, this.lostFrom, 'signal-lost', text);
      this.insertMark.run(channel, this.lostTo, 'signal-back', text);
    }
    for (const { time, kind, text } of this.marks) this.insertMark.run(channel, time, kind, text ?? null);
    return position;
  }

  /** All that waited is safe on the disk. */
  committed(position = this.position): void {
    this.position = position;
    this.buffer.drop(this.buffer.length);
    this.marks = [];
    this.failed = null;
    this.lost = 0;
  }

  /** The disk refused: all waits on. */
  refused(error: unknown): void {
    this.failed = reasonOf(error);
  }

  private cut(from: number): number {
    const start = this.buffer.timeAt(from);
    const end = Math.min(from + commitCount, this.buffer.length);
    let to = from + 1;
    while (to < end && this.buffer.timeAt(to) < start + blockSpan && this.buffer.timeAt(to) > start - commitSpan) to++;
    return to;
  }

  private giveUpOldest(): void {
    const count = Math.ceil(this.setup.limit / 8);
    if (this.lost === 0) this.lostFrom = this.buffer.timeAt(0);
    this.lostTo = this.buffer.timeAt(count - 1);
    this.lost += count;
    this.buffer.drop(count);
  }
}

const insertMarkInto = (db: Database.Database) =>
  db.prepare<[number, number, string, string | null]>('INSERT INTO marks (channel, time, kind, text) VALUES (?, ?, ?, ?)');

function reasonOf(error: unknown): { code: RecordingTrouble['code']; sentence: string } {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  const words = error instanceof Error ? error.message : String(error);
  if (code.startsWith('SQLITE_FULL')) return { code: 'disk-full', sentence: 'the disk is full: new readings are kept in memory only' };
  if (code.startsWith('SQLITE_BUSY')) return { code: 'busy', sentence: 'another program holds the store: new readings are kept in memory only' };
  if (isDamage(error)) return { code: 'damaged', sentence: words };
  if (code.startsWith('SQLITE_READONLY')) return { code: 'read-only', sentence: 'the disk can only be read: new readings are kept in memory only' };
  return { code: 'disk-error', sentence: `the store cannot be written (${words}): new readings are kept in memory only` };
}
