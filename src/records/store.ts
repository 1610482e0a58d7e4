import type Database from 'better-sqlite3';
import type { Conversion } from '../core/conversion.js';
import type { FoundEvent } from '../core/outcome.js';
import { inputError } from '../core/problems.js';
import type { Audit, AuditEntry, AuditNote } from './audit.js';
import type { Anchor, Channel, Channels } from './channels.js';
import { commitTogether } from './commit-together.js';
import type { AppendedEntry, Entry } from './entries.js';
import type { Envelope } from './envelope.js';
import type { StoredEvent } from './events.js';
import type { Ledger, LedgerRow } from './ledger.js';
import { accessRefusal, refuseUnwritable } from './disk-refusal.js';
import { FileInUse } from './file-in-use.js';
import { refuseForeignFile } from './foreign-file.js';
import { Merging } from './merging.js';
import { openForReading, openForWriting, retryAfter, type Notice } from './open-file.js';
import { Retention, type RetentionRules } from './retention.js';
import { RunBook, type RunEnd } from './run-book.js';
import type { RunChoice, RunSearch } from './run-search.js';
import type { Run, Runs, RunStart, RunSummary } from './runs.js';
import type { Signer } from './seal.js';
import { StoreParts } from './store-parts.js';
import { StoreThread } from './store-thread.js';
import type { RecordedTrace, TraceReader } from './trace-reader.js';
import { TraceWriter } from './trace-writer.js';
import type { Version, VersionKind, Versions } from './versions.js';
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

/** s of wall time between two looks for what may be given up, once nothing more was. */
const retentionEvery = 10;
/** s between two moments at which the write-ahead log is emptied into the file. */
const checkpointEvery = 10;
/**
 * The embedded store of a bench: traces, runs, events, plans, entries, ledger, in one SQLite file.
 *
 * Times are seconds on the store's clock: one clock for all channels that never steps back, not even over a restart.
 * A process adds `clockStart()` to its own monotonic seconds and gives times in whole microseconds (they pack best).
 *
 * Samples and marks never throw on trouble with the disk (see `TraceWriter.trouble`). All else that writes throws
 * SQLite's error, and has then changed nothing: keep it and try again.
 */
export class Store {
  private parts: StoreParts;
  private retention: Retention | null = null;
  private readonly writers = new Map<number, TraceWriter>();
  private readonly anchors = new Map<number, Anchor>();
  private readonly pins = new Map<string, (channel: number) => number | null>();
  private readonly now: () => number;
  private readonly thread: StoreThread;
  private readonly merging: Merging;
  private lastCheckpoint = -Infinity;
  private lastRetention = -Infinity;
  private readonly book: RunBook;
  /** `null`: opened for reading. */
  private readonly file: FileInUse | null;

  /** Use `openStore`. */
  constructor(
    db: Database.Database,
    private readonly options: OpenOptions,
    release: () => void,
    /** `null`: opened for reading. */
    private readonly path: string | null = null,
  ) {
    this.now = options.now ?? Date.now;
    this.parts = this.partsOf(db);
    this.file = path === null ? null : new FileInUse(db, path, release);
    this.book = new RunBook({ parts: () => this.parts, writer: (channel) => this.writers.get(channel), wallOf: (channel, time) => this.wallOf(channel, time), software: options.software });
    this.thread = new StoreThread(options.thread);
    this.merging = new Merging({
      thread: this.thread,
      compaction: () => this.parts.compaction,
      channels: () => [...this.writers.values()].filter(({ trouble }) => trouble === null).map(({ channel }) => channel),
      note: (error) => this.note(error),
      remark: (sentence) => options.remark?.(sentence),
    });
  }

  private partsOf(db: Database.Database): StoreParts {
    const parts = new StoreParts(db, (channel) => this.writers.get(channel)?.waiting() ?? null, this.options.signer ?? null);
    const { retention } = this.options;
    this.retention =
      retention === undefined || this.path === null
        ? null
        : new Retention({
            db, blocks: parts.blocks, channels: parts.channels, rules: retention, now: this.now,
            neededFrom: (channel) => this.neededFrom(channel),
            giveUp: (run, why) => this.addEntry(run, { kind: 'trace-removed' }, 'retention', why),
          });
    return parts;
  }

  get db(): Database.Database {
    return this.parts.db;
  }

  get versions(): Versions {
    return this.parts.versions;
  }

  get ledger(): Ledger {
    return this.parts.ledger;
  }

  get channels(): Channels {
    return this.parts.channels;
  }

  get traces(): TraceReader {
    return this.parts.traces;
  }

  get runs(): Runs {
    return this.parts.runs;
  }

  /** Who changed what at the bench. */
  get audit(): Audit {
    return this.parts.audit;
  }

  get search(): RunSearch {
    return this.parts.search;
  }

  /** Name and version of the program that has it open. */
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
   * Where the clock of a process that starts now should begin, in whole seconds: wall time since the store was begun,
   * but always after everything stored, so that a wrong wall clock never makes time step back.
   */
  clockStart(): number {
    const begun = Number(this.db.prepare<[], string>("SELECT value FROM facts WHERE key = 'begun'").pluck().get() ?? this.now());
    const newest = this.channels.list().map(({ id }) => this.parts.blocks.newestTime(id) ?? 0);
    const marked = this.db.prepare<[], number | null>('SELECT max(time) FROM (SELECT max(time) AS time FROM marks UNION ALL SELECT max(at) FROM events)').pluck().get() ?? 0;
    return Math.ceil(Math.max(1, (this.now() - begun) / 1000, ...[...newest, marked, this.runs.newestTime()].map((time) => time + 1)));
  }

  /**
   * Begins a continuous stretch of recording: at the start, after the wall clock stepped, after the host slept.
   * The channel's earlier writer is flushed and must not be used again.
   * @param conversion how the pressures follow from the raw readings: many digits are then kept once and not twice
   */
  beginSegment(channel: number, anchor: Anchor, conversion?: Conversion): TraceWriter {
    const before = this.writers.get(channel);
    if (before && !before.flush()) throw new Error(`recording goes on as before: ${before.trouble?.sentence}`);
    const segment = this.guarded(() => this.channels.beginSegment(channel, anchor));
    const writer = new TraceWriter({ db: this.db, blocks: this.parts.blocks, channel, segment, limit: this.options.waitingLimit ?? 500_000, commit: (asking) => this.commit(asking), ...(conversion && { conversion }) });
    this.writers.set(channel, writer);
    this.anchors.set(channel, anchor);
    return writer;
  }

  /** Call about once a second with the present time (s): commits what waits, then keeps house. Never throws. */
  tick(now: number): void {
    const writers = [...this.writers.values()];
    if (this.file?.isLost !== true && writers.some((writer) => writer.isOverdue(now))) commitTogether(this.db, writers);
    for (const { trouble } of writers) if (trouble?.code === 'damaged') this.file?.noteDamage(trouble.sentence);
    this.file?.look(now);
    if (this.file?.isGivenUp === true) this.replace(this.file);
    this.merging.tick(now);
    if (now - this.lastRetention >= retentionEvery) this.retainOnce(now);
    if (now - this.lastCheckpoint >= checkpointEvery) {
      this.lastCheckpoint = now;
      this.checkpoint();
    }
  }

  /** Commits all that waits. @returns whether everything is safe on the disk. */
  flush(): boolean {
    return commitTogether(this.db, [...this.writers.values()]);
  }

  /** What waits in a writer and, as it costs no more, in the others that are well: those in trouble are tried by `tick`. */
  private commit(asking: TraceWriter): boolean {
    commitTogether(this.db, [...this.writers.values()].filter((writer) => writer === asking || writer.trouble === null));
    return !asking.isWaiting;
  }

  /** Merges all short blocks that are due, of every channel; a running daemon does this bit by bit in `tick`. */
  compact(): void {
    for (const { id } of this.channels.list()) while (this.parts.compaction.step(id));
  }

  /** Resolves once no merge is going on beside the recording. */
  merged(): Promise<void> {
    return this.merging.settled();
  }

  private retainOnce(now: number): void {
    try {
      // While there is more to do it goes on with the next tick.
      if (this.retention?.step() !== true) this.lastRetention = now;
    } catch (error) {
      this.lastRetention = now;
      this.note(error);
    }
  }

  /**
   * Keeps what somebody still needs from being given up for its age: `neededFrom` tells, for a channel, from which time (s)
   * on; `null` where nothing is needed. A store that may not grow any further removes the oldest all the same.
   * @returns ends it
   */
  pin(name: string, neededFrom: (channel: number) => number | null): () => void {
    this.pins.set(name, neededFrom);
    return () => this.pins.delete(name);
  }

  private neededFrom(channel: number): number {
    return Math.min(Infinity, ...[...this.pins.values()].map((neededFrom) => neededFrom(channel) ?? Infinity));
  }

  /** What was set aside while the store was in use; `null` when nothing was. */
  get setAside(): Notice | null {
    return this.file?.setAside ?? null;
  }

  /** Remembers damage that a read or write has met; `tick` then replaces the file. */
  private note(error: unknown): void {
    this.file?.note(error);
  }

  /** What changes runs or the ledger: what the file tells of them is kept in mind. */
  private sealed<T>(work: () => T): T {
    const done = this.guarded(work);
    this.file?.noteStanding(this.db);
    return done;
  }

  private guarded<T>(work: () => T): T {
    try {
      return work();
    } catch (error) {
      this.note(error);
      throw error;
    }
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
        for (const [channel, writer] of this.writers) {
          const anchor = this.anchors.get(channel);
          if (!anchor) continue;
          const segment = this.channels.beginSegment(channel, anchor);
          boat.landInto(db, this.parts.blocks, channel, segment);
          writer.moveTo(db, this.parts.blocks, segment);
        }
        this.book.forgetPrepared();
      });
      this.flush();
    } catch (error) {
      for (const writer of this.writers.values()) writer.refused(error);
    }
  }

  /** Empties the write-ahead log into the file, as far as no reader holds it; never waits for one. */
  private checkpoint(): void {
    if (this.path !== null && this.thread.isThere) {
      // A full or failing disk shows at the next commit; the log stays valid as it is.
      if (!this.thread.isInFile) this.thread.checkpoint(this.path).catch(() => undefined);
      return;
    }
    try {
      this.db.pragma('busy_timeout = 0');
      this.db.pragma('wal_checkpoint(TRUNCATE)');
    } catch {
      // As above.
    } finally {
      this.db.pragma(`busy_timeout = ${retryAfter}`);
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

  // Reading back

  /** The newest runs first. Page with `before`: the last number seen. */
  listRuns(choice: { limit?: number; before?: number; bench?: string } = {}): RunSummary[] {
    return this.guarded(() => this.runs.list(choice));
  }

  /** Runs that fit, the newest first, whatever the size of the library. Page with `before`: the last number seen. */
  searchRuns(choice: RunChoice): RunSummary[] {
    return this.guarded(() => this.search.find(choice).flatMap((number) => this.runs.summary(number) ?? []));
  }

  /** Whether the samples of a run that is over were given up to keep room. Its record says what they were. */
  traceRemoved(run: number): boolean {
    return this.entriesOf(run).some(({ entry }) => entry.kind === 'trace-removed');
  }

  getRun(number: number): Run | null {
    return this.guarded(() => this.runs.get(number));
  }

  entriesOf(run: number): AppendedEntry[] {
    return this.parts.entries.of(run);
  }

  entry(id: number): AppendedEntry | null {
    return this.parts.entries.get(id);
  }

  eventsOf(run: number): StoredEvent[] {
    return this.parts.events.of(run);
  }

  eventsWithin(channel: number, from: number, to: number, limit?: number): StoredEvent[] {
    return this.parts.events.within(channel, from, to, limit);
  }

  /** The samples and marks of a run as they were judged; of an open one, up to now. @throws InputError when there is no such run. */
  traceOfRun(number: number): RecordedTrace {
    const run = this.getRun(number);
    if (!run) throw inputError(`run ${number}`, '', 'there is no such run');
    return this.traces.window(run.channel, run.from, run.to ?? Infinity, run.received);
  }

  /** Samples and marks from `from` to `to` (s, both included), those not yet committed too. */
  traceWindow(channel: number, from: number, to: number): RecordedTrace {
    return this.traces.window(channel, from, to);
  }

  /** The window from `from` to `to` (s) thinned to `columns` columns: first, lowest, highest and last of each. */
  envelope(channel: number, from: number, to: number, columns: number): Envelope {
    return this.parts.envelopes.read(channel, from, to, columns);
  }

  /** The newest `count` samples of a channel. */
  newestSamples(channel: number, count: number): RecordedTrace {
    return this.traces.newest(channel, count);
  }

  /** The wall clock (ms since 1970) at a time (s), by the anchor in force then. */
  wallOf(channel: number, time: number): number {
    return this.channels.wallOf(channel, time) ?? this.now();
  }

  /**
   * The run of a channel that was open when recording stopped, with its samples so far (from `lead` seconds before it,
   * so that a reader can be brought to where it was). Replay them, mark the gap, then go on or `interruptRun`.
   */
  resumeOpenRun(channel: number, lead = 60): { run: Run; trace: RecordedTrace } | null {
    const open = this.runs.openOnes().find((run) => run.channel === channel);
    const run = open && this.getRun(open.number);
    return run ? { run, trace: this.traceWindow(channel, run.from - lead, Infinity) } : null;
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
