import { modbusCrc } from '../../drivers/modbus-crc.js';
import { tables, type ModbusTable } from '../../drivers/modbus-values.js';
import type { Wanted } from './plausible.js';
import { registerFits, type RegisterFit } from './register-fit.js';
import type { RegisterSeries } from './registers.js';

/** What two others say to each other in Modbus RTU on the line that is listened to. */
export interface Overheard {
  /** Frames with a right checksum. */
  readonly frames: number;
  /** `unit id 247, holding 0 to 14` for each stretch that is asked for. */
  readonly asked: readonly string[];
  readonly series: readonly RegisterSeries[];
  readonly fits: readonly RegisterFit[];
}

/** Shortest and longest frame with its checksum (MODBUS over Serial Line V1.02, 2.5.1). */
const shortest = 4;
const longest = 256;
const tableOf = new Map<number, ModbusTable>(Object.entries(tables).map(([name, code]) => [code, name as ModbusTable]));

/** Finds frames in the bytes and pairs questions with the answers that follow them; `null` where too few frames are there. */
export function overheard(bytes: Uint8Array, wanted: Wanted): Overheard | null {
  const frames = framesIn(bytes);
  if (frames.length < 2) return null;
  const series = new Map<string, { unitId: number; table: ModbusTable; start: number; count: number; rounds: { time: number; bytes: Uint8Array }[] }>();
  frames.forEach((answer, i) => {
    const question = frames[i - 1];
    const [unitId = 0, code = 0] = answer;
    const table = tableOf.get(code);
    if (question?.length !== 8 || question[0] !== unitId || question[1] !== code || (table !== 'holding' && table !== 'input')) return;
    const [, , startHigh = 0, startLow = 0, countHigh = 0, countLow = 0] = question;
    const count = countHigh * 256 + countLow;
    if (answer[2] !== count * 2 || answer.length !== count * 2 + 5) return;
    const start = startHigh * 256 + startLow;
    const key = `${unitId} ${table} ${start} ${count}`;
    const entry = series.get(key) ?? { unitId, table, start, count, rounds: [] };
    series.set(key, entry);
    entry.rounds.push({ time: entry.rounds.length, bytes: answer.subarray(3, -2) });
  });
  const all = [...series.values()];
  return {
    frames: frames.length,
    asked: all.map(({ unitId, table, start, count }) => `unit id ${unitId}, ${table} ${start} to ${start + count - 1}`),
    series: all,
    fits: registerFits(all, wanted),
  };
}

/** Frames by their checksum, wherever they begin. */
function framesIn(bytes: Uint8Array): Uint8Array[] {
  const frames: Uint8Array[] = [];
  for (let from = 0; from + shortest <= bytes.length; ) {
    const length = lengthAt(bytes, from);
    if (length > 0) frames.push(bytes.subarray(from, from + length));
    from += Math.max(1, length);
  }
  return frames;
}

/** A checksum of two bytes is right by chance once in 65536: lengths are tried that a frame of this function has. */
function lengthAt(bytes: Uint8Array, from: number): number {
  const code = bytes[from + 1] ?? 0;
  const plain = code & 0x7f;
  if (plain < 1 || plain > 23) return 0;
  const byCount = (bytes[from + 2] ?? 0) + 5;
  const lengths = code > 0x80 ? [5] : code <= 4 ? [8, byCount] : code === 5 || code === 6 ? [8] : [8, (bytes[from + 6] ?? 0) + 9];
  return lengths.find((length) => length <= longest && from + length <= bytes.length && modbusCrc(bytes, from, from + length) === 0) ?? 0;
}
