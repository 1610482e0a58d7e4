import type Database from 'better-sqlite3';
import type { Mark, MarkKind, Trace } from '../core/trace.js';
import { DamagedBlock, type Samples } from './block-codec.js';
import type { BlockRow, BlockTable } from './block-table.js';
import { join } from './join-samples.js';

/** A trace read back, in the order received, with what it was calibrated from. */
export interface RecordedTrace extends Trace {
  readonly flags: Uint8Array;
  readonly marks: readonly Mark[];
  /** Readings before calibration, in the instrument's unit; NaN where a sample had none; `null` where none had. */
  readonly raw: Float64Array | null;
  /** Stretches (s) that are damaged in the file; each is also marked as lost and back. */
  readonly damaged: readonly { readonly from: number; readonly to: number }[];
}

/** What had been received at some moment: later samples and marks are left out, even those with an earlier time. */
export interface Received {
  /** Samples of the channel. */
  readonly samples: number;
  /** Id of the last mark. */
  readonly marks: number;
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
    this.marksWithin = db.prepare<[number, number, number, number], { time: number; kind: MarkKind; text: string | null }>(
      'SELECT time, kind, text FROM marks WHERE channel = ? AND time BETWEEN ? AND ? AND id <= ? ORDER BY time, id',
    );
  }

  /** Samples and marks from `from` to `to` (s, both included); those received by a moment, or all. */
  window(channel: number, from: number, to: number, until: Received | null = null): RecordedTrace {
    return this.together(() => this.assemble(channel, this.blocks.within(channel, from, to), from, to, until));
  }

  /** What has been received and is safe in the file. */
  received(channel: number): Received {
    const marks = this.db.prepare<[number], number | null>('SELECT max(id) FROM marks WHERE channel = ?').pluck().get(channel) ?? 0;
    return { samples: this.blocks.nextPosition(channel), marks };
  }

  /** The newest `count` samples, fewer where there are fewer. */
  newest(channel: number, count: number): RecordedTrace {
    const all = this.together(() => this.assemble(channel, this.blocks.newest(channel, count), -Infinity, Infinity, null));
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

  /** Calls back with each piece of the window in the order received; bounded memory, whatever the length. @throws DamagedBlock */
  pieces(channel: number, from: number, to: number, until: Received, piece: (samples: Samples) => void): void {
    this.together(() => {
      for (const row of this.blocks.within(channel, from, to)) {
        if (row.position < until.samples) piece(clip(this.read(row, until), from, to));
      }
    });
  }

  /** Whether the list of blocks and their summaries agree with the samples, for a window. @throws DamagedBlock */
  summariesAreTrue(channel: number, from: number, to: number): boolean {
    return this.together(() => this.blocks.within(channel, from, to).every((row) => this.blocks.isTrue(row)));
  }

  /** Marks from `from` to `to` (s), by time. */
  marks(channel: number, from: number, to: number, until: Received | null = null): Mark[] {
    const stored = this.marksWithin
      .all(channel, from, to, until?.marks ?? Number.MAX_SAFE_INTEGER)
      .map(({ time, kind, text }): Mark => (text === null ? { time, kind } : { time, kind, text }));
    if (until) return stored;
    const late = this.waiting(channel)?.marks.filter((mark) => mark.time >= from && mark.time <= to) ?? [];
    return [...stored, ...late].sort((a, b) => a.time - b.time);
  }

  /** The lid contact as it was last marked before `time` (s); `null` where it never was. */
  lidBefore(channel: number, time: number): 'open' | 'closed' | null {
    const kind = this.db
      .prepare<[number, number], string>("SELECT kind FROM marks WHERE channel = ? AND time < ? AND kind IN ('lid-open', 'lid-closed') ORDER BY time DESC, id DESC LIMIT 1")
      .pluck()
      .get(channel, time);
    return kind === undefined ? null : kind === 'lid-open' ? 'open' : 'closed';
  }

  /**
   * The samples of a window in the order received, piece by piece, for whoever cannot take all of them at once. Nothing
   * is held between two pieces: a writer may record and merge blocks meanwhile.
   * @throws DamagedBlock
   */
  *inTurn(channel: number, from: number, to: number, until: Received): Generator<Samples> {
    const first = this.blocks.within(channel, from, to);
    const last = first.at(-1);
    const end = Math.min(until.samples, last === undefined ? 0 : last.position + last.count);
    for (let position = first[0]?.position ?? 0; position < end; ) {
      const at = position;
      const { samples, next } = this.together(() => {
        const row = this.blocks.at(channel, at);
        if (row === undefined) throw new DamagedBlock('samples are missing');
        return { samples: slice(this.read(row, until), at - row.position), next: row.position + row.count };
      });
      yield clip(samples, from, to);
      position = next;
    }
  }

  /** One snapshot for list and content: a writer in another process may merge blocks in between. */
  private together<T>(read: () => T): T {
    return this.db.transaction(read)();
  }

  /** The samples of a block that had been received by then. */
  private read(row: BlockRow, until: Received | null): Samples {
    const samples = this.blocks.samples(row.id);
    const kept = until ? until.samples - row.position : row.count;
    if (kept >= samples.time.length) return samples;
    return {
      time: samples.time.slice(0, kept),
      pressure: samples.pressure.slice(0, kept),
      flags: samples.flags.slice(0, kept),
      raw: samples.raw?.slice(0, kept) ?? null,
    };
  }

  private assemble(channel: number, rows: readonly BlockRow[], from: number, to: number, until: Received | null): RecordedTrace {
    const parts: Samples[] = [];
    const damaged: { from: number; to: number }[] = [];
    const found: Mark[] = [];
    for (const row of rows) {
      if (until && row.position >= until.samples) continue;
      try {
        parts.push(clip(this.read(row, until), from, to));
      } catch (error) {
        if (!(error instanceof DamagedBlock)) throw error;
        damaged.push({ from: row.earliest, to: row.latest });
        found.push({ time: row.earliest, kind: 'signal-lost', text: error.message }, { time: row.latest, kind: 'signal-back' });
      }
    }
    const late = until ? null : this.waiting(channel);
    if (late) parts.push(clip(late.samples, from, to));
    const marks = [...this.marks(channel, from, to, until), ...found].sort((a, b) => a.time - b.time);
    return { ...join(parts), marks, damaged };
  }
}

/** Without the first `count` samples. */
const slice = ({ time, pressure, flags, raw }: Samples, count: number): Samples =>
  count === 0 ? { time, pressure, flags, raw } : { time: time.slice(count), pressure: pressure.slice(count), flags: flags.slice(count), raw: raw?.slice(count) ?? null };

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
