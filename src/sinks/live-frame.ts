import type { SampleBatch } from '../server/bench-feed.js';

/**
 * Samples as bytes, little-endian:
 *
 * | bytes | what |
 * | --- | --- |
 * | 0-3 | `DWs` and format number 1 |
 * | 4-7 | u32: how many samples, n |
 * | 8-15 | f64: sequence number of the first; the others follow without a hole |
 * | 16-23 | f64: time of the first, s |
 * | 24-27 | u32: age of the newest when it was sent, ms; all ones when not known |
 * | 28 ... | n x i32: time since the first, microseconds |
 * | | n x f32: pressure, bar; NaN stays NaN |
 * | | n x u8: flags |
 */
const mark = 0x01735744;
const headerBytes = 28;
const bytesPerSample = 9;
const unknownAge = 0xffffffff;
/** Longest time that one frame may span, s; fits 31 bits of microseconds. */
const longestSpan = 2000;

/** Most samples in one frame. */
export const frameCapacity = 4096;

export interface SampleFrame extends SampleBatch {
  /** s between the newest sample's arrival at the daemon and the sending of the frame; `null` when not known. */
  readonly age: number | null;
}

/** How many samples from the start of the batch fit into one frame: at most `frameCapacity`, within 2000 s. */
export function frameLength(batch: SampleBatch): number {
  const most = Math.min(batch.time.length, frameCapacity);
  const begin = batch.time[0] ?? 0;
  for (let i = 1; i < most; i++) {
    if (!(Math.abs((batch.time[i] ?? 0) - begin) <= longestSpan)) return i;
  }
  return most;
}

/**
 * The first `frameLength(batch)` samples as bytes. Times are kept to a microsecond, pressures to single precision
 * (0.06 mbar at 1000 bar); whatever is not finite arrives as NaN.
 *
 * @param age s, see `SampleFrame`
 */
export function encodeFrame(batch: SampleBatch, age: number | null): Uint8Array {
  const count = frameLength(batch);
  const bytes = new Uint8Array(headerBytes + count * bytesPerSample);
  const view = new DataView(bytes.buffer);
  const begin = batch.time[0] ?? 0;
  view.setUint32(0, mark, true);
  view.setUint32(4, count, true);
  view.setFloat64(8, batch.first, true);
  view.setFloat64(16, begin, true);
  view.setUint32(24, age === null ? unknownAge : Math.min(Math.max(Math.round(age * 1000), 0), unknownAge - 1), true);
  for (let i = 0; i < count; i++) {
    const pressure = batch.pressure[i] ?? Number.NaN;
    view.setInt32(headerBytes + 4 * i, Math.round(((batch.time[i] ?? begin) - begin) * 1e6), true);
    view.setFloat32(headerBytes + 4 * (count + i), Number.isFinite(pressure) ? pressure : Number.NaN, true);
    view.setUint8(headerBytes + 8 * count + i, batch.flags[i] ?? 0);
  }
  return bytes;
}

/** The frame in `bytes`, or `null` when they are not one. */
export function decodeFrame(bytes: ArrayBuffer | Uint8Array): SampleFrame | null {
  const view = bytes instanceof Uint8Array ? new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength) : new DataView(bytes);
  if (view.byteLength < headerBytes || view.getUint32(0, true) !== mark) return null;
  const count = view.getUint32(4, true);
  if (count > frameCapacity || view.byteLength !== headerBytes + count * bytesPerSample) return null;
  const first = view.getFloat64(8, true);
  const begin = view.getFloat64(16, true);
  if (!Number.isSafeInteger(first) || first < 0 || !Number.isFinite(begin)) return null;
  const age = view.getUint32(24, true);
  const time = new Float64Array(count);
  const pressure = new Float64Array(count);
  const flags = new Uint8Array(count);
  for (let i = 0; i < count; i++) {
    time[i] = begin + view.getInt32(headerBytes + 4 * i, true) / 1e6;
    pressure[i] = view.getFloat32(headerBytes + 4 * (count + i), true);
    flags[i] = view.getUint8(headerBytes + 8 * count + i);
  }
  return { first, time, pressure, flags, age: age === unknownAge ? null : age / 1000 };
}
