import { crc32 } from 'node:zlib';
import { ByteReader, ByteWriter } from './bytes.js';
import type { Conversion } from '../core/conversion.js';
import { readByConversion, writeByConversion } from './conversion-code.js';
import { readColumn, readDoubles, writeColumn, writeDoubles } from './column-codec.js';
import { readRuns, writeRuns } from './flag-runs.js';

/** Samples column by column, in the order received. Equal lengths. */
export interface Samples {
  /** s */ readonly time: Float64Array;
  /** bar; NaN where no number could be read. */ readonly pressure: Float64Array;
  /** `Flag` bits. */ readonly flags: Uint8Array;
  /** The reading before any calibration, in the instrument's own unit; `null` where it was not given. */
  readonly raw: Float64Array | null;
  /** How the pressures follow from the raw readings, where that is known. */
  readonly conversion?: Conversion;
}

/** A block that cannot be read: damaged, or written by a later version. */
export class DamagedBlock extends Error {
  override readonly name = 'DamagedBlock';
}

const version = 1;
const rawAbsent = 0;
const rawBeside = 1;
/** The pressure follows from the raw reading: it is kept once for each distinct reading. */
const pressureByRaw = 2;
/** No calibration: the pressure is the raw reading. */
const pressureIsRaw = 3;
/** The pressure follows from the raw reading by a conversion that is kept beside it. */
const pressureByConversion = 4;
/** Distinct readings up to which a table is shorter than a conversion. */
const shortTable = 12;

/**
 * Packs samples without losing a bit of any double (NaN stays NaN, whatever its payload).
 *
 * Layout: version byte, count, time column, kind of raw, pressure and raw columns, runs of flags, CRC-32 (IEEE 802.3).
 */
export function encodeBlock(samples: Samples): Uint8Array {
  const { time, pressure, flags, raw } = samples;
  const out = new ByteWriter();
  out.byte(version);
  out.varint(time.length);
  writeColumn(out, time, 'drifting');
  const same = raw?.every((value, i) => Object.is(value, pressure[i])) ?? false;
  const table = raw && !same ? pressureTable(raw, pressure) : null;
  const converted = raw && !same && !(table && table.length <= shortTable) ? byConversion(samples, raw) : null;
  out.byte(raw === null ? rawAbsent : same ? pressureIsRaw : converted ? pressureByConversion : table ? pressureByRaw : rawBeside);
  if (raw) writeColumn(out, raw, 'level');
  if (converted) {
    out.raw(converted);
  } else if (table) {
    out.varint(table.length);
    writeDoubles(out, table);
  } else if (!same) {
    writeColumn(out, pressure, 'level');
  }
  writeRuns(out, flags);
  out.uint32(crc32(out.done()));
  return out.done().slice();
}

/** @throws DamagedBlock when a byte has changed or the version is unknown. */
export function decodeBlock(block: Uint8Array): Samples {
  if (block.length < 5) throw new DamagedBlock('a block of samples is cut short');
  const body = block.subarray(0, block.length - 4);
  const stored = new DataView(block.buffer, block.byteOffset + body.length, 4).getUint32(0, true);
  if (crc32(body) !== stored) throw new DamagedBlock('a block of samples has changed since it was written (its checksum differs)');
  const from = new ByteReader(body);
  const found = from.byte();
  if (found !== version) throw new DamagedBlock(`a block of samples has version ${found}; this program reads version ${version}`);
  try {
    const count = from.varint();
    const time = readColumn(from, count);
    const kind = from.byte();
    const raw = kind === rawAbsent ? null : readColumn(from, count);
    return { time, raw, ...readPressure(from, kind, raw, count), flags: readRuns(from, count) };
  } catch (cause) {
    throw new DamagedBlock('a block of samples cannot be read', { cause });
  }
}

function readPressure(from: ByteReader, kind: number, raw: Float64Array | null, count: number): Pick<Samples, 'pressure' | 'conversion'> {
  if (kind === pressureByConversion && raw) return readByConversion(from, raw);
  if (kind === pressureIsRaw && raw) return { pressure: raw.slice() };
  if (kind === pressureByRaw && raw) return { pressure: lookUp(raw, readDoubles(from, from.varint())) };
  return { pressure: readColumn(from, count) };
}

/** The pressures as a conversion, packed; `null` where they do not follow from it. */
function byConversion({ conversion, pressure }: Samples, raw: Float64Array): Uint8Array | null {
  const out = new ByteWriter();
  return conversion && writeByConversion(out, conversion, raw, pressure) ? out.done() : null;
}

/** The pressures in the order in which their raw readings first appear; `null` when that would not be shorter or not exact. */
function pressureTable(raw: Float64Array, pressure: Float64Array): Float64Array | null {
  const seen = new Map<number, number>();
  const table: number[] = [];
  for (let i = 0; i < raw.length; i++) {
    // A Map takes -0 and 0 for the same key: a pressure that tells them apart must not go this way.
    if (Object.is(raw[i], -0)) return null;
    const known = seen.get(raw[i]!);
    if (known === undefined) {
      seen.set(raw[i]!, pressure[i]!);
      table.push(pressure[i]!);
      if (table.length > 64 && table.length * 3 > raw.length) return null;
    } else if (!Object.is(known, pressure[i])) return null;
  }
  return table.length * 3 > raw.length ? null : Float64Array.from(table);
}

function lookUp(raw: Float64Array, table: Float64Array): Float64Array {
  const place = new Map<number, number>();
  return raw.map((value) => {
    let at = place.get(value);
    if (at === undefined) place.set(value, (at = place.size));
    const pressure = table[at];
    if (pressure === undefined) throw new RangeError('the table of pressures is too short');
    return pressure;
  });
}
