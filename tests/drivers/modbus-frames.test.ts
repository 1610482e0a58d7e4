import { describe, expect, it } from 'vitest';
import { modbusCrc } from '../../drivers/modbus-crc.js';
import type { Answer } from '../../drivers/modbus-pdu.js';
import { TcpFraming } from '../../drivers/modbus-tcp-framing.js';
import { frameSilence } from '../../drivers/modbus-rtu-framing.js';
import { bytesOf, modbusLink } from './modbus-link.js';

/**
 * The worked examples of the MODBUS Application Protocol Specification V1.1b3, sections 6.1 to 6.4 and 7, byte for byte;
 * as RTU frames for unit 1 they carry the checksum of MODBUS over Serial Line V1.02, 2.5.1.2.
 */
const registers = (table: string, first: number, count: number) => Array.from({ length: count }, (_, i) => ({ value: `r${first + i}`, table, address: first + i, type: 'uint16' }));
const bits = (table: string, first: number, count: number) => Array.from({ length: count }, (_, i) => ({ value: `b${first + i}`, table, address: first + i }));
/** The states of coils as the specification prints them: CD 6B 05 for 20 to 38, the first coil in the lowest bit. */
const bitsIn = (hex: string, count: number) => Array.from({ length: count }, (_, i) => ((bytesOf(hex)[i >> 3] ?? 0) >> (i & 7)) & 1);

const examples = [
  ['6.1 read coils 20 to 38', bits('coil', 20, 19), '01 01 00 13 00 13 8C 02', '01 01 03 CD 6B 05 42 82', bitsIn('CD 6B 05', 19)],
  ['6.2 read discrete inputs 197 to 218', bits('discrete', 197, 22), '01 02 00 C4 00 16 B8 39', '01 02 03 AC DB 35 22 88', bitsIn('AC DB 35', 22)],
  ['6.3 read holding registers 108 to 110', registers('holding', 108, 3), '01 03 00 6B 00 03 74 17', '01 03 06 02 2B 00 00 00 64 05 7A', [555, 0, 100]],
  ['6.4 read input register 9', registers('input', 9, 1), '01 04 00 08 00 01 B0 08', '01 04 02 00 0A 39 37', [10]],
] as const;

describe('the worked examples of the specification over RTU', () => {
  it.each(examples)('%s', (_name, values, request, response, right) => {
    const link = modbusLink({ addressBase: 1, values });
    expect(link.sent()).toEqual([request]);
    link.receive(response);
    expect(link.values()).toEqual(right);
    expect(link.faults()).toEqual([]);
  });

  it('the printed states are those of the text: coils 27 to 20 are 1100 1101, inputs 204 to 197 are 1010 1100', () => {
    expect(bitsIn('CD 6B 05', 8).reverse().join('')).toBe('11001101');
    expect(bitsIn('AC DB 35', 8).reverse().join('')).toBe('10101100');
  });

  // Section 7: exception codes; frames for functions 1, 3 and 4.
  it.each([
    [bits('coil', 0, 1), '01 81 02 C1 91', 'refused', 'exception 2: illegal data address'],
    [registers('holding', 0, 1), '01 83 02 C0 F1', 'refused', 'exception 2: illegal data address'],
    [registers('input', 0, 1), '01 84 04 42 C3', 'error-word', 'exception 4: server device failure'],
  ] as const)('an exception is a fault in words: %j', (values, response, fault, raw) => {
    const link = modbusLink({ values });
    link.receive(response);
    expect(link.items.filter((item) => item.kind === 'fault')).toMatchObject([{ fault, raw }]);
    expect(link.values()).toEqual([]);
  });

  it.each([
    ['11 03 00 6B 00 03 76 87'], ['11 01 00 13 00 25 0E 84'], ['01 03 00 00 00 0A C5 CD'], ['01 04 02 FF FF B8 80'], ['01 06 00 00 00 03 C9 CB'],
    ['11 03 06 AE 41 56 52 43 40 49 AD'], ['01 0F 00 13 00 0A 02 CD 01 72 CB'], ['01 10 00 01 00 02 04 00 0A 01 02 92 30'], ['01 05 00 AC FF 00 4C 1B'],
  ])('the checksum over a whole frame is 0: %s', (frame) => {
    expect(modbusCrc(bytesOf(frame))).toBe(0);
  });

  it('the checksum of 123456789 is 4B37, of nothing FFFF, and the low byte goes first', () => {
    // The usual check value of CRC-16/MODBUS: polynomial 8005 reflected, start FFFF.
    expect(modbusCrc(Buffer.from('123456789'))).toBe(0x4b37);
    expect(modbusCrc(Buffer.alloc(0))).toBe(0xffff);
    // The example of MODBUS over Serial Line V1.02, 6.2.2: 02 07 gives 41 12 on the line.
    expect(modbusCrc(bytesOf('02 07'))).toBe(0x1241);
  });

  it('frames are 3.5 characters apart, above 19200 baud 1.75 ms (MODBUS over Serial Line V1.02, 2.5.1.1)', () => {
    expect(frameSilence(9600)).toBeCloseTo(0.004_010_4, 7);
    expect(frameSilence(115_200)).toBe(0.001_75);
  });
});

describe('the same over TCP (MODBUS Messaging on TCP/IP V1.0b, 3.1.3)', () => {
  const block = { unitId: 0x11, table: 'holding', functionCode: 3, start: 0x6b, count: 3, values: [] } as const;
  const heard = (framing: TcpFraming, hex: string): (Answer | string)[] => {
    const items: (Answer | string)[] = [];
    framing.push(bytesOf(hex), { answer: (a) => items.push(a), wrong: () => items.push('wrong'), unasked: () => items.push('unasked'), broken: (s) => items.push(s) });
    return items;
  };

  it('question 1234 to slave 11', () => {
    const framing = new TcpFraming(0x1234);
    expect(Buffer.from(framing.ask(block)).toString('hex')).toBe('12340000000611 03006b0003'.replace(' ', ''));
  });
  it('an answer and an exception', () => {
    const framing = new TcpFraming();
    framing.ask(block);
    expect(heard(framing, '00 01 00 00 00 09 11 03 06 02 2B 00 00 00 64')).toEqual([{ kind: 'content', bytes: Uint8Array.from(bytesOf('02 2B 00 00 00 64')) }]);
    const other = new TcpFraming();
    other.ask(block);
    expect(heard(other, '00 01 00 00 00 03 11 83 02')).toMatchObject([{ kind: 'refusal', refusal: { words: 'illegal data address' } }]);
  });
  it('the number goes round after FFFF', () => {
    const framing = new TcpFraming(0xffff);
    expect(Buffer.from(framing.ask(block)).readUInt16BE()).toBe(0xffff);
    expect(Buffer.from(framing.ask(block)).readUInt16BE()).toBe(0);
  });
});
