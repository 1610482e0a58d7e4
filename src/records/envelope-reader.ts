import type Database from 'better-sqlite3';
import { DamagedBlock } from './block-codec.js';
import { longestBlock, type BlockTable } from './block-table.js';
import { EnvelopeBuilder, type Envelope } from './envelope.js';
import { readSummary } from './summary.js';
import { clip, type Waiting } from './trace-reader.js';

interface Window {
  /** s, the longest stretch that may be read from a summary. */
  readonly finest: number;
  readonly channel: number;
  /** s, earliest start of a block that may reach into the window. */
  readonly back: number;
  readonly from: number;
  readonly to: number;
}

/** A stretch may be told in a neighbouring column when it straddles the edge; by at most this share of a column. */
const share = 1 / 4;

/** Thins any window of a trace to columns, from summaries where they are fine enough and from samples elsewhere. */
export class EnvelopeReader {
  private readonly levels;
  private readonly contents;

  constructor(
    private readonly db: Database.Database,
    private readonly blocks: BlockTable,
    private readonly waiting: Waiting,
  ) {
    const level = `CASE WHEN b.earliest < @from OR b.latest > @to THEN NULL WHEN b.span3 <= @finest THEN 3
      WHEN b.span2 <= @finest THEN 2 WHEN b.span1 <= @finest THEN 1 WHEN b.span0 <= @finest THEN 0 END`;
    const within = 'b.channel = @channel AND b.earliest BETWEEN @back AND @to AND b.latest >= @from ORDER BY b.position';
    // Two lists of single values, in the same order: a list of rows takes twice the time, most of it for the rows themselves.
    this.levels = db.prepare<[Window], number | null>(`SELECT ${level} FROM blocks b WHERE ${within}`).pluck();
    this.contents = db
      .prepare<[Window], Buffer | number>(
        `SELECT coalesce(s.content, b.id) FROM blocks b LEFT JOIN summaries s ON s.id = b.id + 1099511627776 * ${level} WHERE ${within}`,
      )
      .pluck();
  }

  /**
   * Lowest and highest of the whole window are exact, and so is every column of a window that is read from samples.
   * In a long window a stretch counts to the column of its middle: off by at most a quarter of a column.
   * Damaged blocks leave their columns empty.
   */
  read(channel: number, from: number, to: number, columns: number): Envelope {
    if (!(to > from) || !(columns >= 1)) throw new RangeError(`an envelope needs a window and columns, got ${from} to ${to} s in ${columns}`);
    const envelope = new EnvelopeBuilder(from, to, Math.floor(columns));
    const window = { finest: ((to - from) / columns) * share, channel, back: from - longestBlock, from, to };
    this.db.transaction(() => {
      const levels = this.levels.all(window);
      this.contents.all(window).forEach((found, i) => {
        try {
          if (typeof found === 'number') envelope.addSamples(this.blocks.samples(found));
          else readSummary({ level: levels[i] ?? 0, content: found }, (...stretch) => envelope.add(...stretch));
        } catch (error) {
          if (!(error instanceof DamagedBlock)) throw error;
        }
      });
    })();
    const late = this.waiting(channel);
    if (late) envelope.addSamples(clip(late.samples, from, to));
    return envelope;
  }
}
