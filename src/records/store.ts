import type Database from 'better-sqlite3';
import type { FoundEvent, Outcome } from '../core/outcome.js';
import { inputError } from '../core/problems.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import { BlockTable } from './block-table.js';
import { Channels, type Anchor, type Channel } from './channels.js';
import { Compaction } from './compaction.js';
import { Entries, type AppendedEntry, type Entry } from './entries.js';
import type { Envelope } from './envelope.js';
import { EnvelopeReader } from './envelope-reader.js';
import { Events, type StoredEvent } from './events.js';
import { Ledger, type LedgerRow } from './ledger.js';
import { openForReading, openForWriting, type Notice } from './open-file.js';
import { extentOf, runRecord, traceSeal } from './run-record.js';
import { Runs, type Run, type RunStart, type RunSummary } from './runs.js';
import type { Signer } from './seal.js';
import { TraceReader, type RecordedTrace } from './trace-reader.js';
import { TraceWriter } from './trace-writer.js';
import { Versions, type Version, type VersionKind } from './versions.js';
import { lockForWriting } from './writer-lock.js';

export type { Anchor, AppendedEntry, Channel, Entry, Envelope, LedgerRow, Notice, RecordedTrace, Run, RunStart, RunSummary, StoredEvent, Version, VersionKind };

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
}

/** How a run ended. */
export interface RunEnd {
  /** s, when the start turned out to be another than was given to `openRun`. */
  readonly from?: number;
  /** s, the last sample that belongs to it. */
  readonly to: number;
  readonly outcome: Outcome;
  /** What was read to judge it, so that it can be judged again from the record alone. */
  readonly reading?: ReadingStretch;
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
export class Store {
  readonly versions: Versions;
  readonly ledger: Ledger;
  readonly channels: Channels;
  readonly traces: TraceReader;
  readonly runs: Runs;
  private readonly blocks: BlockTable;
  private readonly envelopes: EnvelopeReader;
  private readonly compaction: Compaction;
  private readonly events: Events;
  private readonly entries: Entries;
  private readonly writers = new Map<number, TraceWriter>();
  private readonly now: () => number;
  private lastCheckpoint = -Infinity;

  /** Use `openStore`. */
  constructor(
    readonly db: Database.Database,
    private readonly options: OpenOptions,
    private readonly release: () => void,
  ) {
    this.now = options.now ?? Date.now;
    this.blocks = new BlockTable(db);
    this.channels = new Channels(db);
    this.versions = new Versions(db);
    const waiting = (channel: number) => this.writers.get(channel)?.waiting() ?? null;
    this.traces = new TraceReader(db, this.blocks, waiting);
    this.envelopes = new EnvelopeReader(db, this.blocks, waiting);
    this.compaction = new Compaction(db, this.blocks);
    this.runs = new Runs(db);
    this.events = new Events(db);
    this.ledger = new Ledger(db, options.signer ?? null);
    this.entries = new Entries(db, this.ledger);
  }

  /** Name and version of the program that has it open. */
  get software(): string {
    return this.options.software;
  }

  // Recording

  /** The channel of a bench, made when it is new. `unit` is that of the raw readings. */
  channel(bench: string, name: string, unit: string): Channel {
    return this.channels.keep(bench, name, unit);
  }

  /**
   * Where the clock of a process that starts now should begin, in whole seconds: wall time since the store was begun,
   * but always after everything stored, so that a wrong wall clock never makes time step back.
   */
  clockStart(): number {
    const begun = Number(this.db.prepare<[], string>("SELECT value FROM facts WHERE key = 'begun'").pluck().get() ?? this.now());
    const newest = this.channels.list().map(({ id }) => this.blocks.newestTime(id) ?? 0);
    const marked = this.db.prepare<[], number | null>('SELECT max(time) FROM (SELECT max(time) AS time FROM marks UNION ALL SELECT max(at) FROM events)').pluck().get() ?? 0;
    return Math.ceil(Math.max(1, (this.now() - begun) / 1000, ...[...newest, marked, this.runs.newestTime()].map((time) => time + 1)));
  }

  /**
   * Begins a continuous stretch of recording: at the start, after the wall clock stepped, after the host slept.
   * The channel's earlier writer is flushed and must not be used again.
   */
  beginSegment(channel: number, anchor: Anchor): TraceWriter {
    this.writers.get(channel)?.flush();
    const writer = new TraceWriter({
      db: this.db,
      blocks: this.blocks,
      channel,
      segment: this.channels.beginSegment(channel, anchor),
      limit: this.options.waitingLimit ?? 500_000,
    });
    this.writers.set(channel, writer);
    return writer;
  }

  /** Call about once a second with the present time (s): commits what waits, then keeps house. Never throws. */
  tick(now: number): void {
    for (const writer of this.writers.values()) writer.tick(now);
    for (const [channel, writer] of this.writers) if (!writer.trouble) this.mergeOnce(channel);
    if (now - this.lastCheckpoint >= 20) {
      this.lastCheckpoint = now;
      this.checkpoint();
    }
  }

  /** Commits all that waits. @returns whether everything is safe on the disk. */
  flush(): boolean {
    return [...this.writers.values()].map((writer) => writer.flush()).every(Boolean);
  }

  /** Merges all short blocks that are due, of every channel; a running daemon does this bit by bit in `tick`. */
  compact(): void {
    for (const { id } of this.channels.list()) while (this.compaction.step(id));
  }

  private mergeOnce(channel: number): void {
    try {
      this.compaction.step(channel);
    } catch {
      // Merging only saves room: the short blocks stay as they are, and trouble with the disk shows at the next commit.
    }
  }

  /** Empties the write-ahead log into the file unless a reader holds it; never waits for one. */
  private checkpoint(): void {
    try {
      this.db.pragma('busy_timeout = 0');
      this.db.pragma('wal_checkpoint(TRUNCATE)');
    } catch {
      // A full or failing disk shows at the next commit; the log stays valid as it is.
    } finally {
      this.db.pragma('busy_timeout = 5000');
    }
  }

  // Runs

  /** Keeps a plan, thresholds or calibration. @returns its content hash, for `openRun`. */
  keepVersion(kind: VersionKind, content: unknown, source?: string): string {
    return this.versions.keep(kind, content, this.now(), source);
  }

  /** @returns the number of the new run. */
  openRun(start: RunStart): number {
    const channel = this.channels.get(start.channel);
    if (!channel) throw new RangeError(`there is no channel ${start.channel}`);
    return this.runs.open(start, channel.bench, this.wallOf(start.channel, start.from), this.options.software);
  }

  /** Closes a run and seals its record; it can never be changed again. */
  finishRun(number: number, end: RunEnd): Run {
    return this.closeRun(number, 'finished', end);
  }

  /** Closes a run that the daemon could not watch to its end. Its verdict cannot be `pass`. */
  interruptRun(number: number, end: RunEnd): Run {
    return this.closeRun(number, 'interrupted', end);
  }

  private closeRun(number: number, state: 'finished' | 'interrupted', end: RunEnd): Run {
    const run = this.runs.get(number);
    if (run?.state !== 'open') throw inputError(`run ${number}`, '', run ? `is ${run.state} already` : 'there is no such run');
    const writer = this.writers.get(run.channel);
    if (writer && !writer.flush()) throw new Error(`run ${number} cannot be sealed yet: ${writer.trouble?.sentence}`);
    const from = end.from ?? run.from;
    const received = this.traces.received(run.channel);
    const reading = end.reading ?? null;
    const extent = extentOf({ from, to: end.to, reading });
    const trace = traceSeal(this.traces, run.channel, extent.from, extent.to, received);
    return this.db
      .transaction(() => {
        const [fromWall, toWall] = [this.wallOf(run.channel, from), this.wallOf(run.channel, end.to)];
        this.runs.close(number, { state, from, to: end.to, fromWall, toWall, outcome: end.outcome, received, reading });
        const closed = this.getRun(number);
        if (!closed) throw new Error(`run ${number} is gone`);
        this.ledger.append(number, null, runRecord(closed, this, trace));
        return closed;
      })
      .immediate();
  }

  /** Stores events as they are found; `run` is the open run they belong to. */
  addEvents(channel: number, events: readonly FoundEvent[], run: number | null = null): void {
    if (events.length > 0) this.events.append(channel, run, events);
  }

  /**
   * Adds something to a run, open or over, and seals it.
   * @throws InputError when the entry is not well formed.
   */
  addEntry(run: number, entry: Entry, who: string, why?: string): AppendedEntry {
    return this.entries.append(run, entry, who, this.now(), why ?? null);
  }

  // Reading back

  /** The newest runs first. Page with `before`: the last number seen. */
  listRuns(choice: { limit?: number; before?: number; bench?: string } = {}): RunSummary[] {
    return this.runs.list(choice);
  }

  getRun(number: number): Run | null {
    return this.runs.get(number);
  }

  entriesOf(run: number): AppendedEntry[] {
    return this.entries.of(run);
  }

  entry(id: number): AppendedEntry | null {
    return this.entries.get(id);
  }

  eventsOf(run: number): StoredEvent[] {
    return this.events.of(run);
  }

  eventsWithin(channel: number, from: number, to: number, limit?: number): StoredEvent[] {
    return this.events.within(channel, from, to, limit);
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
    return this.envelopes.read(channel, from, to, columns);
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
    const safe = this.flush();
    this.db.close();
    this.release();
    return safe;
  }
}

/**
 * Opens a store, made when it is new. Show the notices to people: a damaged file was set aside.
 * @throws InputError when another process writes it, it is another program's, or (read-only) it is not there.
 */
export function openStore(path: string, options: OpenOptions): { store: Store; notices: readonly Notice[] } {
  if (options.readOnly) return { store: new Store(openForReading(path), options, () => undefined), notices: [] };
  const release = lockForWriting(path);
  try {
    const { db, notices } = openForWriting(path, (options.now ?? Date.now)());
    return { store: new Store(db, options, release), notices };
  } catch (error) {
    release();
    throw error;
  }
}
