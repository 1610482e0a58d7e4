import type Database from 'better-sqlite3';
import { decodeBlock, encodeBlock, type Samples } from './block-codec.js';
import { extentOf } from './block-extent.js';
import type { PackedBlock } from './merge-blocks.js';
import { summariesOf, summaryId, tellTheSame, type Summary } from './summary.js';

/** A block as the table lists it, without its samples. */
export interface BlockRow {
  readonly id: number;
  readonly segment: number;
  /** Samples of the channel before it, in the order received. */
  readonly position: number;
  readonly count: number;
  readonly tier: number;
  /** s, extreme sample times in it. */
  readonly earliest: number;
  readonly latest: number;
}

/** Where a block belongs. */
export interface BlockPlace {
  readonly channel: number;
  readonly segment: number;
  readonly position: number;
  readonly tier: number;
}

/** s: no block spans more, so that a window of time needs to look back no further. */
export const longestBlock = 1000;

const columns = 'id, segment, position, count, tier, earliest, latest';

/** The raw trace blocks of all channels. */
export class BlockTable {
  private readonly insertRow;
  private readonly insertContent;
  private readonly insertSummary;
  private readonly removals;
  private readonly content;
  private readonly byId;
  private readonly spans;
  private readonly summary;
  private readonly window;
  private readonly after;
  private readonly holding;

  constructor(private readonly db: Database.Database) {
    this.insertRow = db.prepare<[number, number, number, number, number, number, number, ...(number | null)[]]>(
      `INSERT INTO blocks (channel, segment, position, count, tier, earliest, latest, span0, span1, span2, span3)
       VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
    );
    this.insertContent = db.prepare<[number, Uint8Array]>('INSERT INTO contents (block, samples) VALUES (?, ?)');
    this.insertSummary = db.prepare<[number, Uint8Array]>('INSERT INTO summaries (id, content) VALUES (?, ?)');
    this.removals = {
      summary: db.prepare<[number]>('DELETE FROM summaries WHERE id = ?'),
      content: db.prepare<[number]>('DELETE FROM contents WHERE block = ?'),
      row: db.prepare<[number]>('DELETE FROM blocks WHERE id = ?'),
    };
    this.content = db.prepare<[number], Buffer>('SELECT samples FROM contents WHERE block = ?').pluck();
    this.byId = db.prepare<[number], BlockRow>(`SELECT ${columns} FROM blocks WHERE id = ?`);
    this.spans = db.prepare<[number], (number | null)[]>('SELECT span0, span1, span2, span3 FROM blocks WHERE id = ?').raw();
    this.summary = db.prepare<[number], Buffer>('SELECT content FROM summaries WHERE id = ?').pluck();
    this.window = db.prepare<[number, number, number, number], BlockRow>(
      `SELECT ${columns} FROM blocks WHERE channel = ? AND earliest BETWEEN ? AND ? AND latest >= ? ORDER BY position`,
    );
    this.holding = db.prepare<[number, number], BlockRow>(
      `SELECT ${columns} FROM blocks WHERE channel = ? AND position <= ? ORDER BY position DESC LIMIT 1`,
    );
    this.after = db.prepare<[number, number], BlockRow>(
      `SELECT ${columns} FROM blocks WHERE channel = ? AND position >= ? ORDER BY position`,
    );
  }

  /**
   * Adds a block; call within a transaction. Times must be finite and span at most `longestBlock`.
   * @param bytes the samples packed.
   */
  insert(
    place: BlockPlace,
    samples: Samples,
    bytes = encodeBlock(samples),
    summaries: readonly Summary[] = [],
  ): void {
    this.insertPacked(place, { bytes, count: samples.time.length, ...extentOf(samples.time), summaries });
  }

  /** Adds a block that is packed already; call within a transaction. */
  insertPacked(place: BlockPlace, { bytes, count, earliest, latest, summaries }: PackedBlock): void {
    const spans = [0, 1, 2, 3].map((level) => summaries.find((summary) => summary.level === level)?.span ?? null);
    const { channel, segment, position, tier } = place;
    const added = this.insertRow.run(channel, segment, position, count, tier, earliest, latest, ...spans);
    const block = Number(added.lastInsertRowid);
    this.insertContent.run(block, bytes);
    for (const { level, content } of summaries) this.insertSummary.run(summaryId(block, level), content);
  }

  /** Takes a block out that another now holds; call within a transaction. */
  remove(block: number): void {
    for (let level = 0; level < 4; level++) this.removals.summary.run(summaryId(block, level));
    this.removals.content.run(block);
    this.removals.row.run(block);
  }

  /** Blocks with samples that may lie from `from` to `to` (s, both included), in the order received. */
  within(channel: number, from: number, to: number): BlockRow[] {
    return this.window.all(channel, from - longestBlock, to, from);
  }

  /** The block that holds the sample at a position. */
  at(channel: number, position: number): BlockRow | undefined {
    const row = this.holding.get(channel, position);
    return row !== undefined && position < row.position + row.count ? row : undefined;
  }

  /** Blocks from the given position on. */
  from(channel: number, position: number): BlockRow[] {
    return this.after.all(channel, position);
  }

  /** @throws DamagedBlock */
  samples(id: number): Samples {
    return decodeBlock(this.packed(id));
  }

  /** The samples of a block as they lie in the file; empty where there is no such block. */
  packed(id: number): Uint8Array {
    return this.content.get(id) ?? new Uint8Array(0);
  }

  /** The block as it is listed now. */
  row(id: number): BlockRow | undefined {
    return this.byId.get(id);
  }

  /** Whether what is listed of a block, and its summaries, are what its samples give. @throws DamagedBlock */
  isTrue(row: BlockRow): boolean {
    const samples = this.samples(row.id);
    const { earliest, latest } = extentOf(samples.time);
    if (samples.time.length !== row.count || earliest !== row.earliest || latest !== row.latest) return false;
    const spans = this.spans.get(row.id) ?? [];
    const expected = summariesOf(samples);
    return spans.every((span, level) => {
      const summary = expected.find((one) => one.level === level);
      if (span === null) return true; // a short block has none yet
      const content = this.summary.get(summaryId(row.id, level));
      return summary?.span === span && content !== undefined && tellTheSame(summary, { level, content });
    });
  }

  /** Where the next sample of a channel goes. */
  nextPosition(channel: number): number {
    const sql = 'SELECT position + count FROM blocks WHERE channel = ? ORDER BY position DESC LIMIT 1';
    return this.db.prepare<[number], number>(sql).pluck().get(channel) ?? 0;
  }

  /** Newest blocks that hold at least `count` samples, in the order received. */
  newest(channel: number, count: number): BlockRow[] {
    return this.from(channel, this.startOf(channel, Math.max(0, this.nextPosition(channel) - count)));
  }

  private startOf(channel: number, position: number): number {
    const sql = 'SELECT position FROM blocks WHERE channel = ? AND position <= ? ORDER BY position DESC LIMIT 1';
    return this.db.prepare<[number, number], number>(sql).pluck().get(channel, position) ?? 0;
  }

  /** s, the latest time of a channel; `null` before the first sample. */
  newestTime(channel: number): number | null {
    const sql = 'SELECT max(earliest) FROM blocks WHERE channel = ?';
    const last = this.db.prepare<[number], number | null>(sql).pluck().get(channel) ?? null;
    return last === null ? null : this.within(channel, last, Infinity).reduce((t, block) => Math.max(t, block.latest), last);
  }
}
