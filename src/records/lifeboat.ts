import type Database from 'better-sqlite3';
import { DamagedBlock, encodeBlock, type Samples } from './block-codec.js';
import type { BlockTable } from './block-table.js';
import type { Channel } from './channels.js';
import type { AppendedEntry } from './entries.js';
import { leftIn, newerOf, type LeftInFile } from './left-in-file.js';
import type { StoreParts } from './store-parts.js';
import { summariesOf } from './summary.js';

/** s: what is taken along at most; a file that is lost may hold months. */
const longest = 4 * 3600;

interface Carried {
  readonly samples: readonly Samples[];
  readonly marks: readonly { readonly time: number; readonly kind: string; readonly text: string | null }[];
}

/**
 * What is taken along from a file that has to be given up while it is in use: the channels that are recorded, what was said of runs that are
 * open, and, where it can still be read, the newest readings and all those of an open run.
 */
export class Lifeboat {
  /** By which the new file goes on. */
  readonly left: LeftInFile;
  readonly said = new Map<number, readonly AppendedEntry[]>();
  private readonly carried = new Map<number, Carried>();

  /** @param known what the file told when it was last asked; @param readable since when (s) readings are taken along, and how much before an open run; `null` for a damaged file */
  constructor(parts: StoreParts, readonly channels: readonly Channel[], known: LeftInFile, readable: { readonly since: number; readonly lead: number } | null) {
    this.left = newerOf(known, leftIn(parts.db));
    const open = orNone(() => parts.runs.openOnes());
    for (const { number } of open) this.said.set(number, orNone(() => parts.entries.of(number)));
    if (readable === null) return;
    for (const { id } of this.channels) {
      const newest = parts.blocks.newestTime(id) ?? 0;
      const runs = open.filter(({ channel }) => channel === id).map(({ from }) => from - readable.lead);
      this.carried.set(id, carriedFrom(parts, id, Math.max(newest - longest, Math.min(readable.since, ...runs))));
    }
  }

  /** Puts what was carried of a channel into a new file. */
  landInto(db: Database.Database, blocks: BlockTable, channel: number, segment: number): void {
    const carried = this.carried.get(channel);
    if (carried === undefined) return;
    const mark = db.prepare<[number, number, string, string | null]>('INSERT INTO marks (channel, time, kind, text) VALUES (?, ?, ?, ?)');
    db.transaction(() => {
      let position = blocks.nextPosition(channel);
      for (const samples of carried.samples) {
        blocks.insert({ channel, segment, position, tier: 1 }, samples, encodeBlock(samples), summariesOf(samples));
        position += samples.time.length;
      }
      for (const { time, kind, text } of carried.marks) mark.run(channel, time, kind, text);
    }).immediate();
  }
}

function carriedFrom({ db, blocks }: StoreParts, channel: number, from: number): Carried {
  const samples = orNone(() =>
    blocks.within(channel, from, Infinity).flatMap(({ id }) => {
      try {
        return [blocks.samples(id)];
      } catch (error) {
        if (error instanceof DamagedBlock) return [];
        throw error;
      }
    }),
  );
  const marks = orNone(() =>
    db.prepare<[number, number], Carried['marks'][number]>('SELECT time, kind, text FROM marks WHERE channel = ? AND time >= ? ORDER BY id').all(channel, from),
  );
  return { samples, marks };
}

/** A file that is given up may refuse to be read: what it does not give stays in it. */
function orNone<T>(read: () => readonly T[]): readonly T[] {
  try {
    return read();
  } catch {
    return [];
  }
}
