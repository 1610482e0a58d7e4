import { DamagedBlock, decodeBlock, encodeBlock, type Samples } from './block-codec.js';
import { extentOf } from './block-extent.js';
import { join } from './join-samples.js';
import { summariesOf, type Summary } from './summary.js';

/** A block ready to be stored: its samples packed, and what is listed of it. */
export interface PackedBlock {
  readonly bytes: Uint8Array;
  /** Samples in it. */
  readonly count: number;
  /** s, extreme sample times in it. */
  readonly earliest: number;
  readonly latest: number;
  readonly summaries: readonly Summary[];
}

/** What came of a merge: the longer block, or the place in the list of the first one that cannot be read. */
export type Merged = { readonly block: PackedBlock } | { readonly damaged: number };

/**
 * Makes one block of several that follow each other: pure, so that another thread can do it.
 * @param contents as `encodeBlock` gave them, in the order received
 * @throws Error when the longer block does not give its samples back bit by bit
 */
export function mergeBlocks(contents: readonly Uint8Array[]): Merged {
  const parts: Samples[] = [];
  for (const [place, content] of contents.entries()) {
    try {
      parts.push(decodeBlock(content));
    } catch (error) {
      if (error instanceof DamagedBlock) return { damaged: place };
      throw error;
    }
  }
  const samples = join(parts);
  const bytes = encodeBlock(samples);
  if (!survives(samples, bytes)) throw new Error('a merged block does not give its samples back');
  return { block: { bytes, count: samples.time.length, ...extentOf(samples.time), summaries: summariesOf(samples) } };
}

/** The originals go only after the merged block has been read back bit by bit. */
function survives(samples: Samples, bytes: Uint8Array): boolean {
  const back = decodeBlock(bytes);
  const same = (a: Float64Array | Uint8Array, b: Float64Array | Uint8Array) => a.length === b.length && a.every((value, i) => Object.is(value, b[i]));
  return (
    same(samples.time, back.time) && same(samples.pressure, back.pressure) && same(samples.flags, back.flags) &&
    (samples.raw === null ? back.raw === null : back.raw !== null && same(samples.raw, back.raw))
  );
}
