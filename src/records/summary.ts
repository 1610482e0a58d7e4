import { crc32 } from 'node:zlib';
import { DamagedBlock, type Samples } from './block-codec.js';
import { ByteReader, ByteWriter } from './bytes.js';
import { readColumn, writeColumn } from './column-codec.js';
import { readRuns, writeRuns } from './flag-runs.js';

/** Extremes of stretches of a block, in the order received; equal lengths. */
export interface Stretches {
  /** s, the middle of each. */
  readonly time: Float64Array;
  /** bar: first, lowest, highest and last of each; NaN where there was no reading. */
  readonly extremes: readonly [Float64Array, Float64Array, Float64Array, Float64Array];
  /** All `Flag` bits of each. */
  readonly flags: Uint8Array;
  /** s, the longest of them. */
  readonly span: number;
}

/** Samples in one stretch, level by level. */
const sizes = [32, 256, 2048, 16_384] as const;
/** From this level on there are so few stretches that reading them at once matters more than their size. */
const plainFrom = 2;
const plainSize = 41;
/** Begins a packed summary with its flags in runs; an older one has a byte for each and begins with its count, which is never 0. */
const inRuns = 0;

export interface Summary {
  readonly level: number;
  readonly span: number;
  readonly content: Uint8Array;
}

/** Where a summary is kept. */
export const summaryId = (block: number, level: number): number => block + level * 2 ** 40;

/** All levels that pay for a block of samples. */
export function summariesOf(samples: Samples): Summary[] {
  const interval = usualInterval(samples.time);
  return sizes.flatMap((size, level): Summary[] => {
    if (samples.time.length < 2 * size) return [];
    const stretches = stretchesOf(samples, size, interval);
    // Times that jump about make a stretch of every sample; reading the block itself is cheaper then.
    if (stretches.time.length * 8 > samples.time.length) return [];
    return [{ level, span: stretches.span, content: level < plainFrom ? pack(stretches) : lay(stretches) }];
  });
}

/** A stretch ends after `size` samples, or where time jumps so that it would be much longer than the others. */
function stretchesOf({ time, pressure, flags }: Samples, size: number, interval: number): Stretches {
  const longest = 1.5 * size * interval;
  const middles: number[] = [];
  const extremes: [number[], number[], number[], number[]] = [[], [], [], []];
  const bits: number[] = [];
  let span = 0;
  for (let from = 0; from < time.length; ) {
    const start = time[from]!;
    let [first, low, high, last, seen, earliest, latest] = [NaN, NaN, NaN, NaN, 0, start, start];
    let i = from;
    for (; i < time.length && i - from < size && Math.abs(time[i]! - start) <= longest; i++) {
      const t = time[i]!;
      if (t < earliest) earliest = t;
      if (t > latest) latest = t;
      seen |= flags[i]!;
      const p = pressure[i]!;
      if (p !== p) continue;
      if (first !== first) first = p;
      if (!(low <= p)) low = p;
      if (!(high >= p)) high = p;
      last = p;
    }
    middles.push(Math.round((earliest + latest) * 5e5) / 1e6); // whole microseconds pack well
    [first, low, high, last].forEach((value, k) => extremes[k]!.push(value));
    bits.push(seen);
    if (latest - earliest > span) span = latest - earliest;
    from = i;
  }
  const column = (k: 0 | 1 | 2 | 3) => Float64Array.from(extremes[k]);
  return { time: Float64Array.from(middles), extremes: [column(0), column(1), column(2), column(3)], flags: Uint8Array.from(bits), span };
}

function usualInterval(time: Float64Array): number {
  const gaps = new Float64Array(Math.max(0, Math.min(time.length, 4097) - 1));
  for (let i = 0; i < gaps.length; i++) gaps[i] = Math.abs(time[i + 1]! - time[i]!);
  return gaps.sort()[gaps.length >> 1] ?? 0;
}

function pack({ time, extremes, flags }: Stretches): Uint8Array {
  const out = new ByteWriter();
  out.byte(inRuns);
  out.varint(time.length);
  writeColumn(out, time, 'drifting');
  for (const column of extremes) writeColumn(out, column, 'level');
  writeRuns(out, flags);
  out.uint32(crc32(out.done()));
  return out.done().slice();
}

function lay({ time, extremes, flags }: Stretches): Uint8Array {
  const out = new ByteWriter();
  for (let i = 0; i < time.length; i++) {
    out.float64(time[i]!);
    for (const column of extremes) out.float64(column[i]!);
    out.byte(flags[i]!);
  }
  out.uint32(crc32(out.done()));
  return out.done().slice();
}

/** Calls back with each stretch of a summary. @throws DamagedBlock when a byte has changed. */
export function readSummary(
  { level, content }: Pick<Summary, 'level' | 'content'>,
  stretch: (time: number, first: number, lowest: number, highest: number, last: number, flags: number) => void,
): void {
  const view = new DataView(content.buffer, content.byteOffset, content.byteLength);
  const end = content.length - 4;
  if (end < 0 || crc32(content.subarray(0, end)) !== view.getUint32(end, true)) throw new DamagedBlock('a summary of samples has changed since it was written');
  if (level >= plainFrom) {
    const value = (at: number) => view.getFloat64(at, true);
    for (let at = 0; at < end; at += plainSize) {
      stretch(value(at), value(at + 8), value(at + 16), value(at + 24), value(at + 32), view.getUint8(at + 40));
    }
    return;
  }
  const from = new ByteReader(content.subarray(0, end));
  const begins = from.varint();
  const count = begins === inRuns ? from.varint() : begins;
  const time = readColumn(from, count);
  const [first, lowest, highest, last] = [readColumn(from, count), readColumn(from, count), readColumn(from, count), readColumn(from, count)];
  const flags = begins === inRuns ? readRuns(from, count) : from.raw(count);
  for (let i = 0; i < count; i++) stretch(time[i]!, first[i]!, lowest[i]!, highest[i]!, last[i]!, flags[i]!);
}

/** Whether two summaries of a level tell the same; a damaged one tells nothing. */
export function tellTheSame(one: Pick<Summary, 'level' | 'content'>, other: Pick<Summary, 'level' | 'content'>): boolean {
  try {
    const [stretches, others] = [numbersOf(one), numbersOf(other)];
    return stretches.length === others.length && stretches.every((value, i) => Object.is(value, others[i]));
  } catch (error) {
    if (error instanceof DamagedBlock) return false;
    throw error;
  }
}

function numbersOf(summary: Pick<Summary, 'level' | 'content'>): number[] {
  const all: number[] = [];
  readSummary(summary, (...stretch) => all.push(...stretch));
  return all;
}
