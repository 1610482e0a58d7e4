import type Database from 'better-sqlite3';
import { longestBlock, type BlockRow, type BlockTable } from './block-table.js';
import { mergeBlocks, type Merged } from './merge-blocks.js';

/** Blocks of tier i are merged until they hold so many samples or seconds, and become tier i + 1. */
const tiers = [
  { samples: 8192, seconds: 60 },
  { samples: 65_536, seconds: 900 },
] as const;

/** Blocks that make one longer one, as they are in the file at this moment. */
export interface MergeGroup {
  readonly channel: number;
  readonly tier: number;
  readonly rows: readonly BlockRow[];
  /** Their samples, packed. */
  readonly contents: readonly Uint8Array[];
}

/**
 * Merges the short blocks of each second into longer ones, which take half the room and are read faster. Each merge is
 * one transaction: a power cut leaves the old blocks or the new one. `next` and `replace` are quick; what lies between
 * them, `mergeBlocks`, needs no store and may be done elsewhere.
 */
export class Compaction {
  private readonly ofTier;
  private readonly promote;

  constructor(
    private readonly db: Database.Database,
    private readonly blocks: BlockTable,
  ) {
    this.ofTier = db.prepare<[number, number, number], BlockRow>(
      `SELECT id, segment, position, count, tier, earliest, latest FROM blocks WHERE channel = ? AND tier = ? ORDER BY position LIMIT ?`,
    );
    this.promote = db.prepare<[number, number]>('UPDATE blocks SET tier = ? WHERE id = ?');
  }

  /** Does one merge of a channel if one is due. @returns whether there may be more to do. */
  step(channel: number): boolean {
    const group = this.next(channel);
    return group !== null && this.replace(group, mergeBlocks(group.contents));
  }

  /** The blocks of a channel that are to be merged next; `null` while none are due. */
  next(channel: number): MergeGroup | null {
    for (const tier of tiers.keys()) {
      const rows = this.due(channel, tier);
      if (rows !== null && rows.length > 0) return { channel, tier, rows, contents: rows.map(({ id }) => this.blocks.packed(id)) };
    }
    return null;
  }

  /**
   * Puts the longer block in the place of those it was made from.
   * @returns false, with nothing changed, where these are no longer as they were
   */
  replace(group: MergeGroup, merged: Merged): boolean {
    // A merge that a power cut undoes has cost nothing, so it need not wait for the disk: the next commit of readings
    // syncs it too, as the log is written in order.
    if (this.db.inTransaction) return this.putInPlace(group, merged);
    this.db.pragma('synchronous = NORMAL');
    try {
      return this.putInPlace(group, merged);
    } finally {
      this.db.pragma('synchronous = FULL');
    }
  }

  private putInPlace({ channel, tier, rows, contents }: MergeGroup, merged: Merged): boolean {
    const first = rows[0];
    if (!first) return false;
    return this.db
      .transaction(() => {
        if (!rows.every((row, i) => this.isAsItWas(row, contents[i]))) return false;
        if ('damaged' in merged) {
          // What cannot be read is left as it is, and its neighbours are merged without it the next time.
          const damaged = rows[merged.damaged];
          if (damaged) this.promote.run(tiers.length, damaged.id);
          return damaged !== undefined;
        }
        for (const { id } of rows) this.blocks.remove(id);
        this.blocks.insertPacked({ channel, segment: first.segment, position: first.position, tier: tier + 1 }, merged.block);
        return true;
      })
      .immediate();
  }

  private isAsItWas(row: BlockRow, content: Uint8Array | undefined): boolean {
    const now = this.blocks.row(row.id);
    const same = now?.segment === row.segment && now.position === row.position && now.count === row.count && now.tier === row.tier;
    return same && content !== undefined && Buffer.compare(this.blocks.packed(row.id), content) === 0;
  }

  /** The blocks that make the next longer one; `null` while they are too few. */
  private due(channel: number, tier: number): BlockRow[] | null {
    const limit = tiers[tier]!;
    const group: BlockRow[] = [];
    let [count, earliest, latest] = [0, Infinity, -Infinity];
    // One by one: after a long wait there are thousands more than one merge takes.
    for (const row of this.ofTier.iterate(channel, tier, limit.samples)) {
      const last = group.at(-1);
      const joins = !last || (row.segment === last.segment && row.position === last.position + last.count);
      const span = Math.max(latest, row.latest) - Math.min(earliest, row.earliest);
      // The group is as long as it will get: what follows belongs elsewhere.
      if (!joins || span > longestBlock - 50) return group;
      group.push(row);
      count += row.count;
      [earliest, latest] = [Math.min(earliest, row.earliest), Math.max(latest, row.latest)];
      if (count >= limit.samples || span >= limit.seconds) return group;
    }
    return null;
  }
}
