import { Flag } from '../../src/core/trace.js';
import { fromBar, type PressureUnit } from '../../src/core/units.js';
import type { Reading } from '../play.js';
import { reorder, type WordOrder } from './word-order.js';

/** Registers from one channel to the next. */
export const channelStride = 20;

/** What lies where, addresses from 0; the same in input and holding registers. `step` is that of the 16-bit value. */
export const registerTable = (unit: PressureUnit): string => `
  registers (input, function 4, and holding, function 3, alike; addresses from 0; channel N begins at ${channelStride} x (N - 1)):
     0..1    pressure, float32, ${unit}
     2       pressure, int16, in steps of ${stepOf(unit)} ${unit}
     3       status: bit 0 over range, 1 under range, 2 fault, 3 saturated, 8 lid open, 9 pump on, 10 vent open
     4..5    pressure, uint32, in thousandths of ${unit}
     6..7    pressure, int32, in thousandths of ${unit}
     8..11   pressure, float64, ${unit}
     12..13  readings so far, uint32
     14..15  temperature of the transducer, float32, degC
     16..19  zero
  without a reading: NaN, -32768 (int16), 4294967295 (uint32), -2147483648 (int32)
  contacts (discrete inputs, function 2, and coils, function 1, alike): 0 lid closed, 1 pump on, 2 vent open
  other addresses and functions are answered with an exception (2, 1, a wrong quantity 3); nothing can be written
`;

/** Step of the 16-bit value: the smallest power of ten with which 2000 bar still fit. */
export const stepOf = (unit: PressureUnit): number => Number(`1e${Math.ceil(Math.log10(fromBar(2000, unit) / 32_767))}`);

const clamp = (value: number, low: number, high: number): number => Math.min(high, Math.max(low, Math.round(value)));

/** Writes one channel's reading into its registers. */
export function writeChannel(registers: Buffer, channel: number, reading: Reading, count: number, unit: PressureUnit, order: WordOrder): void {
  const base = channel * channelStride;
  const value = readable(reading) ? fromBar(reading.pressure, unit) : NaN;
  const missing = Number.isNaN(value);
  const at = (register: number, size: number): Buffer => registers.subarray((base + register) * 2, (base + register) * 2 + size);
  const long = (register: number, size: 4 | 8, write: (room: Buffer) => void): void => {
    const room = at(register, size);
    write(room);
    reorder(room, order);
  };
  const step = stepOf(unit);
  long(0, 4, (room) => room.writeFloatBE(value));
  at(2, 2).writeInt16BE(missing ? -32_768 : clamp(value / step, -32_767, 32_767));
  at(3, 2).writeUInt16BE(statusOf(reading));
  long(4, 4, (room) => room.writeUInt32BE(missing ? 0xffff_ffff : clamp(value * 1000, 0, 0xffff_fffe)));
  long(6, 4, (room) => room.writeInt32BE(missing ? -0x8000_0000 : clamp(value * 1000, -0x7fff_ffff, 0x7fff_ffff)));
  long(8, 8, (room) => room.writeDoubleBE(value));
  long(12, 4, (room) => room.writeUInt32BE(count % 0x1_0000_0000));
  long(14, 4, (room) => room.writeFloatBE(21.4));
}

const readable = ({ pressure, flags }: Reading): boolean => (flags & ~Flag.saturated) === 0 && !Number.isNaN(pressure);

function statusOf({ flags, contacts }: Reading): number {
  const bit = (condition: boolean, place: number): number => (condition ? 1 << place : 0);
  return (
    bit((flags & Flag.overRange) !== 0, 0) |
    bit((flags & Flag.underRange) !== 0, 1) |
    bit((flags & (Flag.fault | Flag.unreadable | Flag.implausible)) !== 0, 2) |
    bit((flags & Flag.saturated) !== 0, 3) |
    bit(contacts?.lidClosed === false, 8) |
    bit(contacts?.pumpOn === true, 9) |
    bit(contacts?.ventOpen === true, 10)
  );
}
