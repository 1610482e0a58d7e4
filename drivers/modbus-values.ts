import { z } from 'zod';
import { wholeNumber } from './line-options.js';

/** What a value is made of. `bit` is a coil, a discrete input, or one bit of a register. */
export const valueTypes = ['int16', 'uint16', 'int32', 'uint32', 'float32', 'float64', 'bit'] as const;
export type ValueType = (typeof valueTypes)[number];

/**
 * How the bytes of a value lie, A being the most significant: CDAB turns the registers round, BADC the two bytes of each
 * register, DCBA both. Values of 16 and 64 bits follow the same two rules.
 */
export const byteOrders = ['ABCD', 'CDAB', 'BADC', 'DCBA'] as const;
export type ByteOrder = (typeof byteOrders)[number];

/** The four tables of a Modbus device, and the function code that reads each. */
export const tables = { coil: 1, discrete: 2, holding: 3, input: 4 } as const;
export type ModbusTable = keyof typeof tables;

const registersOf: Readonly<Record<ValueType, number>> = { int16: 1, uint16: 1, int32: 2, uint32: 2, float32: 2, float64: 4, bit: 1 };

const finite = (meaning: string) => z.number({ error: `should be a number: ${meaning}` }).refine((value) => Number.isFinite(value), { error: `should be a number: ${meaning}` });

const pattern = z.union([z.number(), z.string().regex(/^0[xX][0-9a-fA-F]{1,16}$/)], { error: "should be a number such as -32768, or the bits as '0x8000'" });

/** One value as people write it. */
export const valueSchema = z
  .strictObject({
    value: z.string().trim().min(1).default('pressure').meta({ description: 'its name, by which a channel asks for it' }),
    table: z.enum(['holding', 'input', 'coil', 'discrete'], { error: 'should be holding, input, coil or discrete' }).default('holding'),
    address: wholeNumber(0, 65_535, 'the address, counted from addressBase'),
    type: z.enum(valueTypes, { error: `should be one of ${valueTypes.join(', ')}` }).optional(),
    order: z.enum(byteOrders, { error: `should be one of ${byteOrders.join(', ')}; ABCD has the most significant byte first` }).default('ABCD'),
    bit: wholeNumber(0, 15, 'the bit of the register, 0 being the least significant').optional(),
    scale: finite('what the number of the device is multiplied by').refine((value) => value !== 0, { error: 'should not be 0' }).default(1),
    offset: finite('what is added after the scale, in the unit of the channel').default(0),
    noValue: z.array(pattern).default([]).meta({ description: 'what the device sends when it has no value; numbers as before the scale, or bits' }),
    unitId: wholeNumber(0, 255, 'the address of the slave, where it differs from that of the input').optional(),
  })
  .superRefine((value, context) => {
    const refuse = (key: string, message: string) => context.addIssue({ code: 'custom', path: [key], message });
    const single = value.table === 'coil' || value.table === 'discrete';
    if (single && value.type !== undefined && value.type !== 'bit') refuse('type', `${value.type} does not fit: a ${value.table} is one bit`);
    if (!single && value.type === undefined) refuse('type', `missing; it should be one of ${valueTypes.join(', ')}`);
    if (value.bit !== undefined && (single || value.type !== 'bit')) refuse('bit', 'needs a holding or input register of type bit');
    if (!single && value.type === 'bit' && value.bit === undefined) refuse('bit', 'missing; say which bit of the register, 0 to 15');
  });

export type ModbusValue = z.output<typeof valueSchema>;

export const typeOf = ({ type }: Pick<ModbusValue, 'type'>): ValueType => type ?? 'bit';
/** Registers (or coils) that a value takes. */
export const sizeOf = (value: Pick<ModbusValue, 'type'>): number => registersOf[typeOf(value)];
export const isBitTable = (table: ModbusTable): boolean => table === 'coil' || table === 'discrete';

/** What the bytes of a value say. `otherwise` is what they would be if a usual mistake had been made in the options. */
export type Decoded =
  | { readonly raw: string; readonly value: number; readonly otherwise?: string }
  | { readonly raw: string; readonly fault: 'no-reading' | 'implausible'; readonly otherwise?: string };

/** float32 below this and not zero is subnormal: no instrument measures that, but halves of two values read so. */
const smallestNormal = 2 ** -126;

/**
 * Reads a value from its registers, most significant byte of each first, as the line carries them.
 * @param bytes the registers of this value alone; for a coil or discrete input one byte, 0 or 1
 */
export function decodeValue(value: ModbusValue, bytes: Uint8Array): Decoded {
  const raw = Buffer.from(bytes).toString('hex').toUpperCase();
  const type = typeOf(value);
  if (type === 'bit') return { raw, value: value.bit === undefined ? (bytes[0] ?? 0) : (Buffer.from(bytes).readUInt16BE() >> value.bit) & 1 };
  const ordered = inOrder(bytes, value.order);
  const plain = numberOf(type, ordered);
  if (!Number.isFinite(plain) || isNoValue(value, plain, ordered)) return { raw, fault: 'no-reading' };
  if (type === 'float32' && plain !== 0 && Math.abs(plain) < smallestNormal) {
    return { raw, fault: 'implausible', otherwise: `${plain.toPrecision(2)} is no measurement; order or address may be wrong by one` };
  }
  const scaled = (n: number) => n * value.scale + value.offset;
  const hint = signHint(type, ordered);
  return { raw, value: scaled(plain), ...(hint !== null && { otherwise: `read as ${hint.type} it is ${Number(scaled(hint.value).toPrecision(7))}: is it signed?` }) };
}

/** A copy with the most significant byte first. */
function inOrder(bytes: Uint8Array, order: ByteOrder): Buffer {
  const copy = Buffer.from(bytes);
  if (order === 'CDAB' || order === 'DCBA') copy.reverse();
  if (order === 'CDAB' || order === 'BADC') copy.swap16();
  return copy;
}

function numberOf(type: Exclude<ValueType, 'bit'>, bytes: Buffer): number {
  switch (type) {
    case 'int16':
      return bytes.readInt16BE();
    case 'uint16':
      return bytes.readUInt16BE();
    case 'int32':
      return bytes.readInt32BE();
    case 'uint32':
      return bytes.readUInt32BE();
    case 'float32':
      return bytes.readFloatBE();
    case 'float64':
      return bytes.readDoubleBE();
  }
}

function isNoValue({ noValue, type }: ModbusValue, plain: number, bytes: Buffer): boolean {
  return noValue.some((listed) => {
    if (typeof listed === 'string') return bytes.toString('hex') === listed.slice(2).toLowerCase().padStart(bytes.length * 2, '0');
    if (type === 'float32') return plain === Math.fround(listed);
    // 0x8000 and 32768 name the bits of an int16 as well as -32768 does.
    const all = 2 ** (bytes.length * 8);
    return plain === listed || (type !== 'float64' && (plain + all) % all === (listed + all) % all);
  });
}

/** An unsigned number with its top bit set is often a small negative one. */
function signHint(type: ValueType, bytes: Buffer): { type: string; value: number } | null {
  if ((bytes[0] ?? 0) < 0x80) return null;
  if (type === 'uint16') return { type: 'int16', value: bytes.readInt16BE() };
  if (type === 'uint32') return { type: 'int32', value: bytes.readInt32BE() };
  return null;
}
