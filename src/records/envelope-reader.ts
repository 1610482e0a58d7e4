import type Database from 'better-sqlite3';
import { DamagedBlock } from './block-codec.js';
import { longestBlock, type BlockTable } from './block-table.js';
import { EnvelopeBuilder, type Envelope } from './envelope.js';
import { readSummary } from './summary.js';
import { clip, type Waiting } from './trace-reader.js';

type Row = [id: number, position: number, earliest: number, latest: number, level: number | null, content: Buffer | null];

/** A stretch may be told in a neighbouring column when it straddles the edge; by at most this share of a column. */
const share = 1 / 4;

/** Thins any window of a trace to columns, from summaries where they are fine enough and from samples elsewhere. */
export class EnvelopeReader {
  private readonly rows;

  constructor(
    private readonly db: Database.Database,
    private readonly blocks: BlockTable,
    private readonly waiting: Waiting,
  ) {
    this.rows = db
      .prepare<[{ finest: number; channel: number; back: number; from: number; to: number }], Row>(
        `SELECT b.id, b.position, b.earliest, b.latest, (s.id - b.id) / 1099511627776, s.content FROM blocks b
           LEFT JOIN summaries s ON s.id = b.id + 1099511627776 * CASE WHEN b.span3 <= @finest THEN 3
             WHEN b.span2 <= @finest THEN 2 WHEN b.span1 <= @finest THEN 1 WHEN b.span0 <= @finest THEN 0 END
           WHERE b.channel = @channel AND b.earliest BETWEEN @back AND @to AND b.latest >= @from ORDER BY b.earliest`,
      )
      .raw();
  }

  /**
   * Lowest and highest of the whole window are exact, and so is every column of a window that is read from samples.
   * In a long window a stretch counts to the column of its middle: off by at most a quarter of a column.
   * Damaged blocks leave their columns empty.
   */
  read(channel: number, from: number, to: number, columns: number): Envelope {
    if (!(to > from) || !(columns >= 1)) throw new RangeError(`an envelope needs a window and columns, got ${from} to ${to} s in ${columns}`);
    const envelope = new EnvelopeBuilder(from, to, Math.floor(columns));
    const finest = ((to - from) / columns) * share;
    this.db.transaction(() => {
      // By time they come straight from the index; by position they are in the order received, mostly the same.
      const rows = this.rows.all({ finest, channel, back: from - longestBlock, from, to }).sort((a, b) => a[1] - b[1]);
      for (const [id, , earliest, latest, level, content] of rows) {
        const inside = earliest >= from && latest <= to;
        try {
          if (inside && level !== null && content) {
            readSummary({ level, content }, (t, first, lowest, highest, last, flags) => {
              envelope.add(t, first, lowest, highest, last, flags);
            });
          } else {
            envelope.addSamples(this.blocks.samples(id));
          }
        } catch (error) {
          if (!(error instanceof DamagedBlock)) throw error;
        }
      }
    })();
    const late = this.waiting(channel);
    if (late) envelope.addSamples(clip(late.samples, from, to));
    return envelope;
  }
}
