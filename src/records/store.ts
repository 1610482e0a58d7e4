import type Database from 'better-sqlite3';
import type { Conversion } from '../core/conversion.js';
import type { FoundEvent } from '../core/outcome.js';
import type { AuditEntry, AuditNote } from './audit.js';
import type { Anchor, Channel } from './channels.js';
import { Checkpoints } from './checkpoints.js';
import type { AppendedEntry, Entry } from './entries.js';
import type { Envelope } from './envelope.js';
import type { StoredEvent } from './events.js';
import type { LedgerRow } from './ledger.js';
import { accessRefusal, refuseUnwritable } from './disk-refusal.js';
import { FileInUse } from './file-in-use.js';
import { refuseForeignFile } from './foreign-file.js';
import { Merging } from './merging.js';
import { openForReading, openForWriting, type Notice } from './open-file.js';
import { Recording } from './recording.js';
import type { RetentionRules } from './retention.js';
import { RetentionRounds } from './retention-rounds.js';
import { RunBook, type RunEnd } from './run-book.js';
import type { RunChoice } from './run-search.js';
import type { Run, RunStart, RunSummary } from './runs.js';
import type { Signer } from './seal.js';
import { StoreParts } from './store-parts.js';
import { StoreReader } from './store-reader.js';
import { StoreThread } from './store-thread.js';
import type { RecordedTrace } from './trace-reader.js';
import type { TraceWriter } from './trace-writer.js';
import type { Version, VersionKind } from './versions.js';
import { lockForWriting } from './writer-lock.js';

export type { Anchor, AppendedEntry, Channel, Entry, Envelope, LedgerRow, Notice, RecordedTrace, Run, RunChoice, RunEnd, RunStart, RunSummary, StoredEvent, Version, VersionKind };

export interface OpenOptions {
  /** Name and version of the program, for the records: `dwellkeeper 0.1.0`. */
  readonly software: string;
  /** Read beside a running daemon; nothing can be written then. */
  readonly readOnly?: boolean;
  /** Signs every seal. */
  readonly signer?: Signer;
  /** ms since 1970; the wall clock unless a test says otherwise. */
  readonly now?: () => number;
  /** Samples of a channel that may wait in memory while the disk refuses; default 500,000 (about 12 MB). */
  readonly waitingLimit?: number;
  /** What may be given up to keep room; nothing without it. */
  readonly retention?: RetentionRules;
  /** Hears what belongs into a log. */
  readonly remark?: (sentence: string) => void;
  /** What a thread beside the store runs (`doChore`), so that readings need not wait for merging; without it there is none. */
  readonly thread?: URL;
}

/**
 * The embedded store of a bench: traces, runs, events, plans, entries, ledger, in one SQLite file.
 *
 * Times are seconds on the store's clock: one clock for all channels that never steps back, not even over a restart.
 * A process adds `clockStart()` to its own monotonic seconds and gives times in whole microseconds (they pack best).
 *
 * Samples and marks never throw on trouble with the disk (see `TraceWriter.trouble`). All else that writes throws
 * SQLite's error, and has then changed nothing: keep it and try again.
 */
export class Store extends StoreReader {
  protected parts: StoreParts;
  protected readonly now: () => number;
  private readonly recording: Recording;
  private readonly retention: RetentionRounds;
  private readonly checkpoints: Checkpoints;
  private readonly thread: StoreThread;
  private readonly merging: Merging;
  private readonly book: RunBook;
  /** `null`: opened for reading. */
  private readonly file: FileInUse | null;

  /** Use `openStore`. `path` is `null` where it is opened for reading. */
  constructor(db: Database.Database, private readonly options: OpenOptions, release: () => void, path: string | null = null) {
    super();
    const { retention } = options;
    this.now = options.now ?? Date.now;
    this.recording = new Recording({ parts: () => this.parts, limit: options.waitingLimit ?? 500_000 });
    this.retention = new RetentionRounds(retention === undefined || path === null ? null : {
      rules: retention, now: this.now,
      giveUp: (run, why) => this.addEntry(run, { kind: 'trace-removed' }, 'retention', why),
      note: (error) => this.note(error),
    });
    this.parts = this.partsOf(db);
    this.file = path === null ? null : new FileInUse(db, path, release);
    this.book = new RunBook({ parts: () => this.parts, writer: (channel) => this.recording.writer(channel), wallOf: (channel, time) => this.wallOf(channel, time), software: options.software });
    this.thread = new StoreThread(options.thread);
    this.checkpoints = new Checkpoints({ path, thread: this.thread, db: () => this.db });
    this.merging = new Merging({
      thread: this.thread,
      compaction: () => this.parts.compaction,
      channels: () => this.recording.channelsWithoutTrouble,
      note: (error) => this.note(error),
      remark: (sentence) => options.remark?.(sentence),
    });
  }

  private partsOf(db: Database.Database): StoreParts {
    const parts = new StoreParts(db, (channel) => this.recording.writer(channel)?.waiting() ?? null, this.options.signer ?? null);
    this.retention.begin(parts);
    return parts;
  }

  get software(): string {
    return this.options.software;
  }

  // Recording

  /** The channel of a bench, made when it is new. `unit` is that of the raw readings. */
  channel(bench: string, name: string, unit: string): Channel {
    const channel = this.channels.keep(bench, name, unit);
    this.file?.noteChannel(channel);
    return channel;
  }

  /**
   * Begins a continuous stretch of recording: at the start, after the wall clock stepped, after the host slept.
   * The channel's earlier writer is flushed and must not be used again.
   * @param conversion how the pressures follow from the raw readings: many digits are then kept once and not twice
   */
  beginSegment(channel: number, anchor: Anchor, conversion?: Conversion): TraceWriter {
    this.recording.endSegment(channel);
    const segment = this.guarded(() => this.channels.beginSegment(channel, anchor));
    return this.recording.beginSegment(channel, segment, anchor, conversion);
  }

  /** Call about once a second with the present time (s): commits what waits, then keeps house. Never throws. */
  tick(now: number): void {
    if (this.file?.isLost !== true && this.recording.isOverdue(now)) this.recording.flush();
    for (const sentence of this.recording.damage) this.file?.noteDamage(sentence);
    this.file?.look(now);
    if (this.file?.isGivenUp === true) this.replace(this.file);
    this.merging.tick(now);
    this.retention.tick(now);
    this.checkpoints.tick(now);
  }

  /** Commits all that waits. @returns whether everything is safe on the disk. */
  flush(): boolean {
    return this.recording.flush();
  }

  /** Merges all short blocks that are due, of every channel; a running daemon does this bit by bit in `tick`. */
  compact(): void {
    for (const { id } of this.channels.list()) while (this.parts.compaction.step(id));
  }

  /** Resolves once no merge is going on beside the recording. */
  merged(): Promise<void> {
    return this.merging.settled();
  }

  /**
   * Keeps what somebody still needs from being given up for its age: `neededFrom` tells, for a channel, from which time (s)
   * on; `null` where nothing is needed. A store that may not grow any further removes the oldest all the same.
   * @returns ends it
   */
  pin(name: string, neededFrom: (channel: number) => number | null): () => void {
    return this.retention.pin(name, neededFrom);
  }

  /** What was set aside while the store was in use; `null` when nothing was. */
  get setAside(): Notice | null {
    return this.file?.setAside ?? null;
  }

  /** Remembers damage that a read or write has met; `tick` then replaces the file. */
  protected note(error: unknown): void {
    this.file?.note(error);
  }

  /** What changes runs or the ledger: what the file tells of them is kept in mind. */
  private sealed<T>(work: () => T): T {
    const done = this.guarded(work);
    this.file?.noteStanding(this.db);
    return done;
  }

  /** What the file before this one had said of a run that was open when it was replaced. */
  saidBefore(run: number): readonly AppendedEntry[] {
    return this.file?.saidBefore(run) ?? [];
  }

  /**
   * Goes on in a new file, with the same channels, where the one in use is damaged or has lost its name; what waits in the
   * writers is written there. Tries again at the next tick when the disk refuses.
   */
  private replace(file: FileInUse): void {
    if (this.thread.isInFile) return;
    try {
      file.beginAnew(this.parts, this.now(), (db, boat) => {
        this.parts = this.partsOf(db);
        for (const channel of boat.channels) this.channels.restore(channel);
        this.recording.moveInto(this.parts, boat);
        this.book.forgetPrepared();
      });
      this.flush();
    } catch (error) {
      this.recording.refused(error);
    }
  }

  // Runs

  /** Keeps a plan, thresholds or calibration. @returns its content hash, for `openRun`. */
  keepVersion(kind: VersionKind, content: unknown, source?: string): string {
    return this.versions.keep(kind, content, this.now(), source);
  }

  /** What was received so far is committed first: a run on record has the samples by which it was found. @returns the number of the new run. */
  openRun(start: RunStart): number {
    return this.sealed(() => this.book.open(start));
  }

  /** Closes a run and seals its record; it can never be changed again. */
  finishRun(number: number, end: RunEnd): Run {
    return this.sealed(() => this.book.close(number, 'finished', end));
  }

  /** Closes a run that the daemon could not watch to its end. Its verdict cannot be `pass`. */
  interruptRun(number: number, end: RunEnd): Run {
    return this.sealed(() => this.book.close(number, 'interrupted', end));
  }

  /**
   * Reads a part of the trace of a run that is to be closed, for its seal: call it until it says that all is read, then
   * close the run at once. Closing a long run without it takes as long as reading its whole trace.
   * @returns whether all is read
   */
  prepareSeal(number: number, end: RunEnd): boolean {
    return this.guarded(() => this.book.prepare(number, end));
  }

  /** Stores events as they are found; `run` is the open run they belong to. */
  addEvents(channel: number, events: readonly FoundEvent[], run: number | null = null): void {
    if (events.length > 0) this.guarded(() => this.parts.events.append(channel, run, events));
  }

  /**
   * Adds something to a run, open or over, and seals it.
   * @throws InputError when the entry is not well formed.
   */
  addEntry(run: number, entry: Entry, who: string, why?: string): AppendedEntry {
    return this.sealed(() => this.parts.entries.append(run, entry, who, this.now(), why ?? null));
  }

  /** Writes down a change at the bench, sealed. @throws InputError for a note that is not well formed */
  addAudit(note: AuditNote): AuditEntry {
    return this.sealed(() => this.audit.append(note, this.now()));
  }

  /** Commits what waits, empties the log and lets go of the file. @returns whether everything was safe by then. */
  close(): boolean {
    this.merging.end();
    this.thread.end();
    const safe = this.flush();
    try {
      this.db.close();
    } finally {
      this.file?.end();
    }
    return safe;
  }
}

/**
 * Opens a store, made when it is new. Show the notices to people: a damaged file was set aside.
 * @throws InputError when another process writes it, it is another program's or no store, or (read-only) it is not there.
 */
export function openStore(path: string, options: OpenOptions): { store: Store; notices: readonly Notice[] } {
  if (options.readOnly) return { store: new Store(openForReading(path), options, () => undefined), notices: [] };
  refuseForeignFile(path);
  refuseUnwritable(path);
  const release = lockForWriting(path);
  try {
    const { db, notices } = openForWriting(path, (options.now ?? Date.now)());
    return { store: new Store(db, options, release, path), notices };
  } catch (error) {
    release();
    throw accessRefusal(error, path, 'write') ?? error;
  }
}
