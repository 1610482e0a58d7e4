import { crc32 } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import type { Samples } from '../../src/records/block-codec.js';
import { ByteWriter } from '../../src/records/bytes.js';
import { writeColumn } from '../../src/records/column-codec.js';
import { readSummary, summariesOf, tellTheSame, type Summary } from '../../src/records/summary.js';

/** 20 s at 100 Hz, pumped up and held, with a flag in the middle. */
function samples(): Samples {
  const time = Float64Array.from({ length: 2000 }, (_, i) => i / 100);
  const pressure = time.map((t) => Math.round((t < 5 ? 80 * t : 400 - 0.05 * t) * 100) / 100);
  return { time, pressure, flags: Uint8Array.from(time, (t) => (t >= 7 && t < 8 ? 4 : 0)), raw: null };
}

function finest(): Summary {
  const [first] = summariesOf(samples());
  if (first === undefined) throw new Error('no summary was made');
  return first;
}

/** The form of the first stores: a byte of flags for each stretch. */
function asInFirstStores(summary: Summary): Summary {
  const columns: [number[], number[], number[], number[], number[]] = [[], [], [], [], []];
  const flags: number[] = [];
  readSummary(summary, (...stretch) => {
    columns.forEach((column, k) => column.push(stretch[k] ?? NaN));
    flags.push(stretch[5]);
  });
  const out = new ByteWriter();
  out.varint(flags.length);
  columns.forEach((column, k) => writeColumn(out, Float64Array.from(column), k === 0 ? 'drifting' : 'level'));
  out.raw(Uint8Array.from(flags));
  out.uint32(crc32(out.done()));
  return { ...summary, content: out.done().slice() };
}

describe('a summary of a block', () => {
  it('has the extremes and flags of each stretch of 32 samples', () => {
    const { pressure, flags } = samples();
    let i = 0;
    readSummary(finest(), (_, first, lowest, highest, last, seen) => {
      const part = pressure.subarray(i, i + 32);
      expect([first, lowest, highest, last]).toEqual([part[0], Math.min(...part), Math.max(...part), part.at(-1)]);
      expect(seen).toBe(Math.max(...flags.subarray(i, i + 32)));
      i += 32;
    });
    expect(i).toBeGreaterThanOrEqual(2000);
  });

  it('is read in its first form too, which tells the same with more bytes', () => {
    const [now, first] = [finest(), asInFirstStores(finest())];
    expect(first.content.length).toBeGreaterThan(now.content.length);
    expect(tellTheSame(now, first)).toBe(true);
  });

  it('does not tell the same when another reading, another flag or a flipped byte is in it', () => {
    const other = (change: (all: Samples) => void): Summary => {
      const all = samples();
      change(all);
      return summariesOf(all)[0] ?? finest();
    };
    expect(tellTheSame(finest(), other(() => undefined))).toBe(true);
    expect(tellTheSame(finest(), other(({ pressure }) => (pressure[900] = 500)))).toBe(false);
    expect(tellTheSame(finest(), other(({ flags }) => (flags[10] = 1)))).toBe(false);
    const flipped = finest();
    flipped.content[5] = (flipped.content[5] ?? 0) ^ 1;
    expect(tellTheSame(finest(), flipped)).toBe(false);
  });
});
