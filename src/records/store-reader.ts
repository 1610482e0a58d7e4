import type Database from 'better-sqlite3';
import { inputError } from '../core/problems.js';
import type { Audit } from './audit.js';
import type { Channels } from './channels.js';
import type { AppendedEntry } from './entries.js';
import type { Envelope } from './envelope.js';
import type { StoredEvent } from './events.js';
import type { Ledger } from './ledger.js';
import type { RunChoice, RunSearch } from './run-search.js';
import type { Run, Runs, RunSummary } from './runs.js';
import type { StoreParts } from './store-parts.js';
import type { RecordedTrace, TraceReader } from './trace-reader.js';
import type { Versions } from './versions.js';

/** What a store tells of its records. Nothing in here writes. Times are seconds on the store's clock. */
export abstract class StoreReader {
  /** Name and version of the program that has it open. */
  abstract readonly software: string;
  /** Of the file that is open at this moment: others once a file was replaced. */
  protected abstract readonly parts: StoreParts;
  /** ms since 1970. */
  protected abstract readonly now: () => number;
  /** Hears damage that a read or write has met. */
  protected abstract note(error: unknown): void;

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
   * The run of a channel that was open when recording stopped, with its samples so far (from `lead` seconds before it,
   * so that a reader can be brought to where it was). Replay them, mark the gap, then go on or `interruptRun`.
   */
  resumeOpenRun(channel: number, lead = 60): { run: Run; trace: RecordedTrace } | null {
    const open = this.runs.openOnes().find((run) => run.channel === channel);
    const run = open && this.getRun(open.number);
    return run ? { run, trace: this.traceWindow(channel, run.from - lead, Infinity) } : null;
  }

  /** Does what may meet damage. */
  protected guarded<T>(work: () => T): T {
    try {
      return work();
    } catch (error) {
      this.note(error);
      throw error;
    }
  }
}
