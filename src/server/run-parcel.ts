/**
 * A recorded run on its way to a page: everything that judging needs, samples untouched. First a head as JSON, then pieces
 * of columns, each ready to be sent as soon as it was read:
 *
 *     head    `DKRUN1` in ASCII, 2 bytes 0, length of the JSON (uint32), 4 bytes 0, the JSON in UTF-8
 *     piece   number n of samples (uint32), 4 bytes 0, n times in s (float64), n pressures in bar (float64), n flags (uint8)
 *
 * All numbers are little-endian. A missing pressure is NaN.
 */
import type { Outcome } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import type { Thresholds } from '../core/thresholds.js';
import type { Instrument, Mark, Trace } from '../core/trace.js';

const magic = 'DKRUN1';
const headSize = 16;
const pieceHead = 8;
const sampleSize = 17;

/** What is known of a recorded run besides its samples. Times in s on the trace's clock. */
export interface ParcelHead {
  readonly run: number;
  readonly from: number;
  readonly to: number;
  /** ms since 1970 at `from`. */
  readonly wall: number;
  readonly reading: ReadingStretch;
  readonly plan: Plan | null;
  readonly thresholds: Thresholds;
  readonly instrument: Instrument | null;
  readonly marks: readonly Mark[];
  /** As it is on record, judged again or not. */
  readonly outcome: Outcome;
}

/** Columns of equal length. */
export interface ParcelSamples {
  readonly time: Float64Array;
  readonly pressure: Float64Array;
  readonly flags: Uint8Array;
}

export interface Parcel {
  readonly head: ParcelHead;
  readonly samples: ParcelSamples;
}

/** The trace as the bench read it: it knew from the start how the lid stood. */
export function traceOfParcel({ head: { reading, marks }, samples }: Parcel): Trace {
  const { from, lid } = reading;
  return { ...samples, marks: lid === null ? marks : [{ time: from, kind: lid === 'open' ? 'lid-open' : 'lid-closed' }, ...marks] };
}

/** The head as bytes. */
export function headBytes(head: ParcelHead): Uint8Array {
  const json = new TextEncoder().encode(JSON.stringify(head));
  const bytes = new Uint8Array(headSize + json.length);
  bytes.set(new TextEncoder().encode(magic));
  new DataView(bytes.buffer).setUint32(8, json.length, true);
  bytes.set(json, headSize);
  return bytes;
}

/** One piece as bytes. */
export function pieceBytes({ time, pressure, flags }: ParcelSamples): Uint8Array {
  const n = time.length;
  const bytes = new Uint8Array(pieceHead + sampleSize * n);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, n, true);
  for (let i = 0; i < n; i++) {
    view.setFloat64(pieceHead + 8 * i, time[i] ?? NaN, true);
    view.setFloat64(pieceHead + 8 * (n + i), pressure[i] ?? NaN, true);
  }
  bytes.set(flags.subarray(0, n), pieceHead + 16 * n);
  return bytes;
}

/** Takes a parcel apart; pieces are joined. @throws RangeError for bytes that are none, or that end too early */
export function openParcel(bytes: Uint8Array): Parcel {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (bytes.length < headSize || new TextDecoder().decode(bytes.subarray(0, magic.length)) !== magic) throw new RangeError('these bytes are no recorded run');
  const length = view.getUint32(8, true);
  if (headSize + length > bytes.length) throw new RangeError('the recorded run ends within its head');
  const head = JSON.parse(new TextDecoder().decode(bytes.subarray(headSize, headSize + length))) as ParcelHead;
  const pieces: { at: number; n: number }[] = [];
  let count = 0;
  for (let at = headSize + length; at < bytes.length; ) {
    const n = at + pieceHead <= bytes.length ? view.getUint32(at, true) : Infinity;
    if (at + pieceHead + sampleSize * n > bytes.length) throw new RangeError('the recorded run ends within its samples');
    pieces.push({ at: at + pieceHead, n });
    count += n;
    at += pieceHead + sampleSize * n;
  }
  const samples = { time: new Float64Array(count), pressure: new Float64Array(count), flags: new Uint8Array(count) };
  let to = 0;
  for (const { at, n } of pieces) {
    for (let i = 0; i < n; i++) {
      samples.time[to + i] = view.getFloat64(at + 8 * i, true);
      samples.pressure[to + i] = view.getFloat64(at + 8 * (n + i), true);
    }
    samples.flags.set(bytes.subarray(at + 16 * n, at + 17 * n), to);
    to += n;
  }
  return { head, samples };
}
