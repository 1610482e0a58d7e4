import type Database from 'better-sqlite3';
import { DamagedBlock, type Samples } from '../../records/block-codec.js';
import type { BlockRow, BlockTable } from '../../records/block-table.js';
import type { Anchor, Channel } from '../../records/channels.js';
import type { Cursor } from './cursor.js';
import type { Waiting } from './forwarded.js';
import { SampleLines } from './sample-lines.js';
import type { Engine } from './settings.js';
import type { Stamps } from './stamps.js';
import { standing } from './thinning.js';

export interface SampleBounds {
  /** Samples in one batch, in full. */
  readonly samples: number;
  /** s: what is older than this, seen from the newest sample of its channel, is thinned. */
  readonly backlog: number;
  /** s, interval of thinning. */
  readonly thinnedTo: number;
}

/** What became of the samples that a batch passes. */
export interface SampleTally {
  /** Sent. */
  readonly samples: number;
  /** Left out because they were older than the backlog that is sent in full. */
  readonly thinned: number;
  /** No longer in the store. */
  readonly removed: number;
  /** Damaged in the store. */
  readonly damaged: number;
  /** Recorded while the clock of the computer was wrong by decades. */
  readonly wrongClock: number;
  readonly samplesLeft: boolean;
}

/** Blocks read for one batch at most; a long block is decoded in some ms. */
const blocksAtOnce = 64;
const longBlocksAtOnce = 2;

/** Reads samples after a cursor, a bounded number at a time. */
export class SampleSpool {
  private readonly rows;
  private readonly anchor;
  private readonly newest;
  private readonly bytes;
  private readonly lines = new Map<Engine, SampleLines>();
  private decoded: { place: string; samples: Samples } | null = null;

  constructor(
    db: Database.Database,
    private readonly blocks: BlockTable,
  ) {
    this.rows = db.prepare<[number, number, number, number, number], BlockRow>(
      `SELECT id, segment, position, count, tier, earliest, latest FROM blocks WHERE channel = ? AND position + count > ?
         AND position >= coalesce((SELECT max(position) FROM blocks WHERE channel = ? AND position <= ?), 0) ORDER BY position LIMIT ?`,
    );
    this.anchor = db.prepare<[number], Anchor>('SELECT time, wall FROM segments WHERE id = ?');
    this.bytes = db.prepare<[number, number], number>('SELECT total(length(samples)) FROM blocks JOIN contents ON contents.block = blocks.id WHERE channel = ? AND position >= ?').pluck();
    this.newest = db.prepare<[number], { end: number; latest: number }>('SELECT position + count AS "end", latest FROM blocks WHERE channel = ? ORDER BY position DESC LIMIT 1');
  }

  behind(channels: readonly Channel[], cursor: Cursor): Waiting {
    let [samples, seconds, bytes] = [0, 0, 0];
    for (const { id } of channels) {
      const position = cursor.samples[id] ?? 0;
      const newest = this.newest.get(id);
      if (newest === undefined || newest.end <= position) continue;
      const first = this.rowsFrom(id, position, 1)[0];
      samples += newest.end - Math.max(position, first?.position ?? position);
      seconds = Math.max(seconds, newest.latest - (first?.earliest ?? newest.latest));
      bytes += this.bytes.get(id, first?.position ?? position) ?? 0;
    }
    return { samples, seconds, bytes };
  }

  /** Appends the lines of the next samples and moves the cursor past them. */
  append(lines: string[], channels: readonly Channel[], cursor: Cursor, engine: Engine, stamps: Stamps, bounds: SampleBounds, now: number): SampleTally {
    const tally = { samples: 0, thinned: 0, removed: 0, damaged: 0, wrongClock: 0, samplesLeft: false };
    for (const channel of channels) {
      const newest = this.newest.get(channel.id);
      if (newest === undefined) continue;
      const full = newest.latest - bounds.backlog;
      let position = cursor.samples[channel.id] ?? 0;
      let long = 0;
      for (const row of this.rowsFrom(channel.id, position, blocksAtOnce)) {
        const budget = bounds.samples - tally.samples;
        if (budget <= 0 || long >= longBlocksAtOnce) break;
        if (row.position > position) {
          tally.removed += row.position - position;
          position = row.position;
        }
        const samples = this.decode(row);
        if (row.count > bounds.samples) long++;
        if (samples === null) {
          tally.damaged += row.position + row.count - position;
          position = row.position + row.count;
          continue;
        }
        const from = position - row.position;
        const kept = row.latest < full ? standing(samples, from, bounds.thinnedTo) : null;
        const to = kept ? row.count : Math.min(row.count, from + budget);
        const before = lines.length;
        const origin = { channel: channel.id, bench: channel.bench, name: channel.name, anchor: this.anchor.get(row.segment) ?? { time: 0, wall: 0 } };
        const wrong = this.linesOf(engine).append(lines, origin, { samples, from, to, kept }, stamps, now);
        const sent = lines.length - before;
        tally.samples += sent;
        tally.wrongClock += wrong;
        tally.thinned += to - from - sent - wrong;
        position = row.position + to;
      }
      cursor.samples[channel.id] = position;
      tally.samplesLeft ||= position < newest.end;
    }
    return tally;
  }

  private rowsFrom(channel: number, position: number, limit: number): BlockRow[] {
    return this.rows.all(channel, position, channel, position, limit);
  }

  /** The last block is kept: a long one is read in many batches. */
  private decode({ id, segment, position, count }: BlockRow): Samples | null {
    // Not by its id: those of blocks that were merged away are given again.
    const place = `${segment} ${position} ${count}`;
    if (this.decoded?.place === place) return this.decoded.samples;
    try {
      const samples = this.blocks.samples(id);
      this.decoded = { place, samples };
      return samples;
    } catch (error) {
      if (!(error instanceof DamagedBlock)) throw error;
      return null;
    }
  }

  private linesOf(engine: Engine): SampleLines {
    let lines = this.lines.get(engine);
    if (lines === undefined) this.lines.set(engine, (lines = new SampleLines(engine)));
    return lines;
  }
}
