import type Database from 'better-sqlite3';
import type { Mark, MarkKind, Trace } from '../core/trace.js';
import { DamagedBlock, type Samples } from './block-codec.js';
import type { BlockRow, BlockTable } from './block-table.js';

/** A trace read back, in the order received, with what it was calibrated from. */
export interface RecordedTrace extends Trace {
  readonly flags: Uint8Array;
  readonly marks: readonly Mark[];
  /** Readings before calibration, in the instrument's unit; NaN where a sample had none; `null` where none had. */
  readonly raw: Float64Array | null;
  /** Stretches (s) that are damaged in the file; each is also marked as lost and back. */
  readonly damaged: readonly { readonly from: number; readonly to: number }[];
}

/** Samples that wait in a writer. */
export type Waiting = (channel: number) => { readonly samples: Samples; readonly marks: readonly Mark[] } | null;

/** Reads traces: what is in the file, then what still waits in memory. */
export class TraceReader {
  private readonly marksWithin;

  constructor(
    private readonly db: Database.Database,
    private readonly blocks: BlockTable,
    private readonly waiting: Waiting,
  ) {
    this.marksWithin = db.prepare<[number, number, number], { time: number; kind: MarkKind; text: string | null }>(
      'SELECT time, kind, text FROM marks WHERE channel = ? AND time BETWEEN ? AND ? ORDER BY time, id',
    );
  }

  /** Samples and marks from `from` to `to` (s, both included). */
  window(channel: number, from: number, to: number): RecordedTrace {
    return this.together(() => this.assemble(channel, this.blocks.within(channel, from, to), from, to));
  }

  /** The newest `count` samples, fewer where there are fewer. */
  newest(channel: number, count: number): RecordedTrace {
    const all = this.together(() => this.assemble(channel, this.blocks.newest(channel, count), -Infinity, Infinity));
    const skip = Math.max(0, all.time.length - count);
    const time = all.time.slice(skip);
    const from = time.reduce((least, t) => Math.min(least, t), Infinity);
    return {
      time,
      pressure: all.pressure.slice(skip),
      flags: all.flags.slice(skip),
      raw: all.raw?.slice(skip) ?? null,
      marks: all.marks.filter((mark) => mark.time >= from),
      damaged: all.damaged,
    };
  }

  /** Calls back with each piece of the window in the order received; bounded memory, whatever the length. */
  pieces(channel: number, from: number, to: number, piece: (samples: Samples) => void): void {
    this.together(() => {
      for (const block of this.blocks.within(channel, from, to)) piece(clip(this.blocks.samples(block.id), from, to));
    });
    const late = this.waiting(channel);
    if (late) piece(clip(late.samples, from, to));
  }

  /** Marks from `from` to `to` (s), by time. */
  marks(channel: number, from: number, to: number): Mark[] {
    const stored = this.marksWithin
      .all(channel, from, to)
      .map(({ time, kind, text }): Mark => (text === null ? { time, kind } : { time, kind, text }));
    const late = this.waiting(channel)?.marks.filter((mark) => mark.time >= from && mark.time <= to) ?? [];
    return [...stored, ...late].sort((a, b) => a.time - b.time);
  }

  /** One snapshot for list and content: a writer in another process may merge blocks in between. */
  private together<T>(read: () => T): T {
    return this.db.transaction(read)();
  }

  private assemble(channel: number, rows: readonly BlockRow[], from: number, to: number): RecordedTrace {
    const parts: Samples[] = [];
    const damaged: { from: number; to: number }[] = [];
    const found: Mark[] = [];
    for (const row of rows) {
      try {
        parts.push(clip(this.blocks.samples(row.id), from, to));
      } catch (error) {
        if (!(error instanceof DamagedBlock)) throw error;
        damaged.push({ from: row.earliest, to: row.latest });
        found.push({ time: row.earliest, kind: 'signal-lost', text: error.message }, { time: row.latest, kind: 'signal-back' });
      }
    }
    const late = this.waiting(channel);
    if (late) parts.push(clip(late.samples, from, to));
    const marks = [...this.marks(channel, from, to), ...found].sort((a, b) => a.time - b.time);
    return { ...join(parts), marks, damaged };
  }
}

/** Samples with times from `from` to `to`; the very same object when that is all of them. */
export function clip(samples: Samples, from: number, to: number): Samples {
  const { time } = samples;
  let kept = 0;
  for (const t of time) if (t >= from && t <= to) kept++;
  if (kept === time.length) return samples;
  const at = new Uint32Array(kept);
  for (let i = 0, k = 0; i < time.length; i++) if (time[i]! >= from && time[i]! <= to) at[k++] = i;
  const pick = (column: Float64Array) => Float64Array.from(at, (i) => column[i]!);
  return {
    time: pick(time),
    pressure: pick(samples.pressure),
    flags: Uint8Array.from(at, (i) => samples.flags[i]!),
    raw: samples.raw && pick(samples.raw),
  };
}

/** One run of samples from several, in their order. */
export function join(parts: readonly Samples[]): Samples {
  const only = parts[0];
  if (parts.length === 1 && only) return only;
  const length = parts.reduce((sum, part) => sum + part.time.length, 0);
  const joined = { time: new Float64Array(length), pressure: new Float64Array(length), flags: new Uint8Array(length) };
  const raw = parts.some((part) => part.raw && part.time.length > 0) ? new Float64Array(length).fill(NaN) : null;
  let at = 0;
  for (const part of parts) {
    joined.time.set(part.time, at);
    joined.pressure.set(part.pressure, at);
    joined.flags.set(part.flags, at);
    if (part.raw) raw?.set(part.raw, at);
    at += part.time.length;
  }
  return { ...joined, raw };
}
