import type Database from 'better-sqlite3';
import type { Channel } from './channels.js';
import { isDamage } from './damage.js';
import type { AppendedEntry } from './entries.js';
import { fileAt, lossOf, type FilePlace } from './file-place.js';
import { leftIn, newerOf, type LeftInFile } from './left-in-file.js';
import { Lifeboat } from './lifeboat.js';
import { replaceDamaged, replaceLost, type Notice } from './open-file.js';
import type { StoreParts } from './store-parts.js';
import { lockForWriting } from './writer-lock.js';

/** s between two looks whether the file still is where it was opened. */
const lookEvery = 3;
/** s: a reading may be older by so much than the commit that stored it. */
const commitLag = 5;
/** s of idle time that a run needs before its start to be read again. */
const leadOfRun = 60;

/** Watches the file that a store writes into: whether it is damaged or has lost its name, and begins a new one then. */
export class FileInUse {
  /** What was set aside while the store was in use; `null` when nothing was. */
  setAside: Notice | null = null;
  private damage: string | null = null;
  /** The file that was opened, and what became of it. */
  private place: FilePlace | null;
  private loss: 'gone' | 'another' | null = null;
  /** s, when the file was last seen in its place, and when that is looked at again. */
  private seen = -Infinity;
  private nextLook = -Infinity;
  private boat: Lifeboat | null = null;
  /** Channels that are recorded, and what the file last told of its numbers and seals: a damaged one may no longer. */
  private readonly recorded = new Map<number, Channel>();
  private standing: LeftInFile;
  /** What a file that was replaced had said of runs that were open. */
  private readonly said = new Map<number, readonly AppendedEntry[]>();

  constructor(db: Database.Database, private readonly path: string, private release: () => void) {
    this.place = fileAt(path);
    this.standing = leftIn(db);
  }

  /** True once it has lost its name: nothing more is written into it then. */
  get isLost(): boolean {
    return this.loss !== null;
  }

  /** True where a new file is to be begun. */
  get isGivenUp(): boolean {
    return this.damage !== null || this.loss !== null;
  }

  /** Remembers damage that a read or write has met. */
  note(error: unknown): void {
    if (isDamage(error)) this.damage ??= error.message;
  }

  noteDamage(sentence: string): void {
    this.damage ??= sentence;
  }

  noteChannel(channel: Channel): void {
    this.recorded.set(channel.id, channel);
  }

  /** What the file tells of its runs and seals is kept in mind. */
  noteStanding(db: Database.Database): void {
    this.standing = newerOf(this.standing, leftIn(db));
  }

  /** @param now s */
  look(now: number): void {
    if (this.loss !== null || now < this.nextLook) return;
    this.nextLook = now + lookEvery;
    this.loss = lossOf(this.path, this.place);
    if (this.loss === null) this.seen = now;
  }

  /** What the file before this one had said of a run that was open when it was replaced. */
  saidBefore(run: number): readonly AppendedEntry[] {
    return this.said.get(run) ?? [];
  }

  /**
   * Begins a new file in the place of the one in use; of one that can still be read, what was recorded since it was last
   * seen in its place, and all of a run that is going on, is taken along. What is taken along is the same at each attempt, as
   * the file before is gone once one has begun.
   * @param now ms since 1970
   * @param moveInto puts channels and what waits into the new file
   * @throws where the disk refuses; nothing is lost, try again
   */
  beginAnew(parts: StoreParts, now: number, moveInto: (db: Database.Database, boat: Lifeboat) => void): void {
    this.boat ??= new Lifeboat(parts, [...this.recorded.values()], this.standing, this.damage === null ? { since: this.seen - commitLag, lead: leadOfRun } : null);
    const { boat } = this;
    const { db, notice } = this.newFile(parts.db, now, boat);
    moveInto(db, boat);
    this.place = fileAt(this.path);
    for (const [run, entries] of boat.said) this.said.set(run, entries);
    this.setAside = notice;
    this.damage = this.loss = this.boat = null;
  }

  private newFile(old: Database.Database, now: number, { left }: Lifeboat): { db: Database.Database; notice: Notice } {
    if (this.damage !== null || this.loss === null) return replaceDamaged(old, this.path, now, this.damage ?? '', left);
    // The lock may have gone with the file.
    this.release();
    this.release = () => undefined;
    this.release = lockForWriting(this.path);
    return replaceLost(old, this.path, now, this.loss, left);
  }

  /** Lets go of the lock. */
  end(): void {
    this.release();
  }
}
