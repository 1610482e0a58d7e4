import type Database from 'better-sqlite3';
import type { Samples } from './block-codec.js';
import { longestBlock, type BlockRow, type BlockTable } from './block-table.js';
import type { TraceSeal } from './run-record.js';
import { TraceDigest } from './trace-digest.js';
import { clip, type Received } from './trace-reader.js';

/** Samples read in one step: some 50 ms of work, so that acquisition never waits for the seal of a long run. */
const stepSamples = 262_144;

/** Which samples a run's seal covers. */
export interface SealedStretch {
  readonly channel: number;
  /** s, both included. */
  readonly from: number;
  readonly to: number;
  /** What had been received when the run was closed. */
  readonly received: Received;
}

/**
 * Reads the trace of a run for its digest, bit by bit and in bounded memory. Blocks may be merged between two steps: the
 * place is kept as a position, which merging does not change.
 */
export class TraceSealing {
  private readonly digest = new TraceDigest();
  private readonly next;
  private position: number;
  private sealed: TraceSeal | null = null;

  constructor(
    db: Database.Database,
    private readonly blocks: BlockTable,
    readonly stretch: SealedStretch,
  ) {
    const { channel, from, to } = stretch;
    this.position =
      db
        .prepare<[number, number, number, number], number | null>(
          'SELECT min(position) FROM blocks WHERE channel = ? AND earliest BETWEEN ? AND ? AND latest >= ?',
        )
        .pluck()
        .get(channel, from - longestBlock, to, from) ?? received(stretch);
    this.next = db.prepare<[number, number, number], BlockRow>(
      `SELECT id, segment, position, count, tier, earliest, latest FROM blocks WHERE channel = ?
         AND position >= coalesce((SELECT max(position) FROM blocks WHERE channel = ? AND position <= ?), 0) ORDER BY position LIMIT 64`,
    );
  }

  /** The seal; `null` until `step` has returned true. */
  get done(): TraceSeal | null {
    return this.sealed;
  }

  /** Reads on. @returns whether all is read. @throws DamagedBlock */
  step(): boolean {
    if (this.sealed) return true;
    for (let read = 0; read < stepSamples && this.position < received(this.stretch); ) {
      const rows = this.next.all(this.stretch.channel, this.stretch.channel, this.position).filter((row) => row.position + row.count > this.position);
      if (rows.length === 0) this.position = received(this.stretch);
      for (const row of rows) {
        read += this.take(row);
        if (read >= stepSamples || this.position >= received(this.stretch)) break;
      }
    }
    if (this.position < received(this.stretch)) return false;
    this.sealed = { samples: this.digest.count, sha256: this.digest.done(), received: this.stretch.received };
    return true;
  }

  /** @returns how many samples were read. */
  private take(row: BlockRow): number {
    const { from, to } = this.stretch;
    const end = Math.min(row.position + row.count, received(this.stretch));
    const start = Math.max(row.position, this.position);
    this.position = end;
    if (end <= start || row.latest < from || row.earliest > to) return 0;
    this.digest.add(clip(cut(this.blocks.samples(row.id), start - row.position, end - row.position), from, to));
    return row.count;
  }
}

const received = ({ received: { samples } }: SealedStretch): number => samples;

function cut(samples: Samples, from: number, to: number): Samples {
  if (from === 0 && to >= samples.time.length) return samples;
  return {
    time: samples.time.slice(from, to),
    pressure: samples.pressure.slice(from, to),
    flags: samples.flags.slice(from, to),
    raw: samples.raw?.slice(from, to) ?? null,
  };
}
