import type Database from 'better-sqlite3';
import { Audit } from './audit.js';
import { BlockTable } from './block-table.js';
import { Channels } from './channels.js';
import { Compaction } from './compaction.js';
import { Entries } from './entries.js';
import { EnvelopeReader } from './envelope-reader.js';
import { Events } from './events.js';
import { Ledger } from './ledger.js';
import { RunSearch } from './run-search.js';
import { Runs } from './runs.js';
import type { Signer } from './seal.js';
import { TraceReader, type Waiting } from './trace-reader.js';
import { Versions } from './versions.js';

/** Everything that reads and writes one opened file; made anew when a damaged file is replaced. */
export class StoreParts {
  readonly blocks: BlockTable;
  readonly channels: Channels;
  readonly versions: Versions;
  readonly traces: TraceReader;
  readonly envelopes: EnvelopeReader;
  readonly compaction: Compaction;
  readonly runs: Runs;
  readonly events: Events;
  readonly ledger: Ledger;
  readonly entries: Entries;
  readonly audit: Audit;
  readonly search: RunSearch;

  constructor(
    readonly db: Database.Database,
    waiting: Waiting,
    signer: Signer | null,
  ) {
    this.blocks = new BlockTable(db);
    this.channels = new Channels(db);
    this.versions = new Versions(db);
    this.traces = new TraceReader(db, this.blocks, waiting);
    this.envelopes = new EnvelopeReader(db, this.blocks, waiting);
    this.compaction = new Compaction(db, this.blocks);
    this.runs = new Runs(db);
    this.events = new Events(db);
    this.ledger = new Ledger(db, signer);
    this.search = new RunSearch(db);
    this.audit = new Audit(db, signer);
    this.entries = new Entries(db, this.ledger, this.search);
  }
}
