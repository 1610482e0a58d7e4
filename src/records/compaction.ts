import type Database from 'better-sqlite3';
import { DamagedBlock, decodeBlock, encodeBlock, type Samples } from './block-codec.js';
import { longestBlock, type BlockRow, type BlockTable } from './block-table.js';
import { summariesOf } from './summary.js';
import { join } from './trace-reader.js';

/** Blocks of tier i are merged until they hold so many samples or seconds, and become tier i + 1. */
const tiers = [
  { samples: 8192, seconds: 60 },
  { samples: 65_536, seconds: 900 },
] as const;

/**
 * Merges the short blocks of each second into longer ones, which take half the room and are read faster. Each merge is
 * one transaction: a power cut leaves the old blocks or the new one.
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
    return tiers.some((_, tier) => this.stepTier(channel, tier));
  }

  private stepTier(channel: number, tier: number): boolean {
    const group = this.due(channel, tier);
    return group !== null && this.merge(channel, tier, group);
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

  private merge(channel: number, tier: number, group: readonly BlockRow[]): boolean {
    const first = group[0];
    if (!first) return false;
    const parts: Samples[] = [];
    for (const row of group) {
      try {
        parts.push(this.blocks.samples(row.id));
      } catch (error) {
        if (!(error instanceof DamagedBlock)) throw error;
        // What cannot be read is left as it is, and its neighbours are merged without it the next time.
        this.promote.run(tiers.length, row.id);
        return true;
      }
    }
    const samples = join(parts);
    const bytes = encodeBlock(samples);
    if (!survives(samples, bytes)) throw new Error('a merged block does not give its samples back');
    this.db
      .transaction(() => {
        for (const { id } of group) this.blocks.remove(id);
        const place = { channel, segment: first.segment, position: first.position, tier: tier + 1 };
        this.blocks.insert(place, samples, bytes, summariesOf(samples));
      })
      .immediate();
    return true;
  }
}

/** The originals go only after the merged block has been read back bit by bit. */
function survives(samples: Samples, bytes: Uint8Array): boolean {
  const back = decodeBlock(bytes);
  const same = (a: Float64Array | Uint8Array, b: Float64Array | Uint8Array) => a.every((value, i) => Object.is(value, b[i]));
  return (
    same(samples.time, back.time) && same(samples.pressure, back.pressure) && same(samples.flags, back.flags) &&
    (samples.raw === null ? back.raw === null : back.raw !== null && same(samples.raw, back.raw))
  );
}
