import fc from 'fast-check';
import { connect } from 'node:net';
import { afterEach, describe, expect, it, onTestFinished, vi } from 'vitest';
import { contactsAt } from '../../simulators/contacts.js';
import { crc16, withCrc } from '../../simulators/instruments/modbus-crc.js';
import { ModbusInstrument } from '../../simulators/instruments/modbus-instrument.js';
import { stepOf } from '../../simulators/instruments/modbus-map.js';
import { ModbusRtuLine } from '../../simulators/instruments/modbus-rtu.js';
import { listenModbusTcp } from '../../simulators/instruments/modbus-tcp.js';
import type { Wire } from '../../simulators/instruments/wire.js';
import { reorder, wordOrders } from '../../simulators/instruments/word-order.js';
import { runScenario } from '../../simulators/run-scenario.js';
import { Flag } from '../../src/core/trace.js';
import { until } from '../drivers/pty-pair.js';

const hex = (text: string): Buffer => Buffer.from(text.replaceAll(' ', ''), 'hex');
const shown = (bytes: Uint8Array): string => Buffer.from(bytes).toString('hex').replace(/..(?=.)/g, '$& ').toUpperCase();

const cleanups: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const clean of cleanups.splice(0).reverse()) await clean();
});

describe('checksum', () => {
  it('has the check value of CRC-16/MODBUS and 0xFFFF for nothing', () => {
    // Catalogue of parametrised CRC algorithms (G. Cook): check("123456789") = 0x4B37.
    expect(crc16(Buffer.from('123456789'))).toBe(0x4b37);
    expect(crc16(Buffer.alloc(0))).toBe(0xffff);
  });

  // The worked examples of the MODBUS Application Protocol V1.1b3, section 6, as frames of unit 1; the last one is the
  // CRC example of MODBUS over Serial Line V1.02.
  it.each([
    '01 01 00 13 00 13 8C 02', '01 02 00 C4 00 16 B8 39', '01 03 00 6B 00 03 74 17', '01 03 06 02 2B 00 00 00 64 05 7A',
    '01 04 00 08 00 01 B0 08', '01 04 02 00 0A 39 37', '01 81 02 C1 91', '01 84 04 42 C3', '11 03 00 6B 00 03 76 87', '02 07 41 12',
  ])('ends the frame %s', (frame) => expect(shown(withCrc(hex(frame).subarray(0, -2)))).toBe(frame));
});

describe('word order', () => {
  // IEEE 754 single 123.456 is 42 F6 E9 79.
  it.each([['ABCD', '42 F6 E9 79'], ['CDAB', 'E9 79 42 F6'], ['BADC', 'F6 42 79 E9'], ['DCBA', '79 E9 F6 42']] as const)('%s is %s', (order, bytes) => {
    const value = Buffer.alloc(4);
    value.writeFloatBE(123.456);
    reorder(value, order);
    expect(shown(value)).toBe(bytes);
  });

  it('comes back when done twice', () => {
    fc.assert(fc.property(fc.double(), fc.constantFrom(...wordOrders), (number, order) => {
      const value = Buffer.alloc(8);
      value.writeDoubleBE(number);
      const before = shown(value);
      reorder(value, order);
      reorder(value, order);
      expect(shown(value)).toBe(before);
    }));
  });
});

describe('register map', () => {
  const read = (instrument: ModbusInstrument, address: number, quantity: number, code = 4): Buffer =>
    instrument.answer(Buffer.from([code, address >> 8, address & 255, quantity >> 8, quantity & 255]));

  it('carries one pressure in every form, and the same in holding registers', () => {
    const instrument = new ModbusInstrument();
    instrument.show({ time: 0, pressure: 350.25, flags: 0, contacts: { lidClosed: true, pumpOn: true, ventOpen: false } });
    expect(shown(read(instrument, 0, 16))).toBe(
      '04 20 43 AF 20 00 0D AF 02 00 00 05 58 2A 00 05 58 2A 40 75 E4 00 00 00 00 00 00 00 00 01 41 AB 33 33',
    );
    expect(read(instrument, 0, 20, 3).subarray(2)).toEqual(read(instrument, 0, 20, 4).subarray(2));
    expect(shown(read(instrument, 0, 3, 2))).toBe('02 01 03');
    expect(shown(read(instrument, 1, 1, 1))).toBe('01 01 01');
  });

  it.each([
    [Flag.overRange, 1], [Flag.underRange, 2], [Flag.fault, 4], [Flag.unreadable, 4],
  ])('says in every form that it has no reading (flag %i)', (flags, status) => {
    const instrument = new ModbusInstrument();
    instrument.show({ time: 0, pressure: 350, flags });
    const registers = read(instrument, 0, 12).subarray(2);
    expect(registers.readFloatBE(0)).toBeNaN();
    expect(registers.readInt16BE(4)).toBe(-32_768);
    expect(registers.readUInt16BE(6) & 0xff).toBe(status);
    expect([registers.readUInt32BE(8), registers.readInt32BE(12)]).toEqual([4_294_967_295, -2_147_483_648]);
    expect(registers.readDoubleBE(16)).toBeNaN();
  });

  it('keeps a saturated reading, a small vacuum and further channels', () => {
    const instrument = new ModbusInstrument({ channels: 2, wordOrder: 'DCBA' });
    instrument.show({ time: 0, pressure: -0.3, flags: Flag.saturated });
    const registers = read(instrument, 0, 27).subarray(2);
    expect(registers.readInt16BE(4)).toBe(-3);
    expect(registers.readUInt16BE(6) & 0xff).toBe(8);
    expect(registers.readUInt32BE(8)).toBe(0);
    expect(registers.readInt32LE(12)).toBe(-300);
    expect(registers.readFloatLE(0)).toBeCloseTo(-0.3, 6);
    expect(registers.readFloatLE(40)).toBeCloseTo(-0.2, 6);
  });

  it.each([['bar', 0.1], ['MPa', 0.01], ['psi', 1], ['kPa', 10]] as const)('steps the 16-bit value in %s by %f', (unit, step) => expect(stepOf(unit)).toBe(step));

  it.each([
    ['an unknown function', '2B 0E 01 00', 'AB 01'], ['a write', '06 00 00 00 05', '86 01'], ['an address beyond the map', '04 00 13 00 02', '84 02'],
    ['a contact beyond the map', '02 00 02 00 02', '82 02'], ['no registers', '03 00 00 00 00', '83 03'], ['126 registers', '03 00 00 00 7E', '83 03'],
    ['2001 bits', '01 00 00 07 D1', '81 03'], ['a request that is too short', '04 00 00', '84 03'],
  ])('answers %s with an exception', (_what, request, answer) => expect(shown(new ModbusInstrument().answer(hex(request)))).toBe(answer));

  it('answers with the exception it is told to', () => {
    const instrument = new ModbusInstrument();
    instrument.refuse(6);
    expect(shown(read(instrument, 0, 2))).toBe('84 06');
    instrument.refuse(null);
    expect(read(instrument, 0, 2)[0]).toBe(4);
  });
});

describe('on a serial line', () => {
  function line(...unitIds: number[]) {
    let listener: (bytes: Uint8Array) => void = () => undefined;
    const sent: string[] = [];
    const wire: Wire = { send: (bytes) => void sent.push(shown(bytes)), onBytes: (l) => void (listener = l), close: () => Promise.resolve() };
    const instruments = unitIds.map((unitId) => new ModbusInstrument({ unitId }));
    instruments.forEach((instrument, i) => instrument.show({ time: 0, pressure: 100 * (i + 1), flags: 0 }));
    return { rtu: new ModbusRtuLine(wire, instruments), sent, hear: (bytes: Uint8Array) => listener(bytes) };
  }
  const request = (unitId: number, ...pdu: number[]) => withCrc(Buffer.from([unitId, ...pdu]));

  it('answers each unit id with its own values, wherever the bytes are cut', () => {
    fc.assert(fc.property(fc.array(fc.constantFrom(1, 2, 3), { maxLength: 20 }), fc.array(fc.integer({ min: 1, max: 9 })), (ids, cuts) => {
      const { hear, sent } = line(1, 2);
      const stream = Buffer.concat(ids.map((id) => request(id, 4, 0, 2, 0, 1)));
      for (let at = 0, i = 0; at < stream.length; i++) {
        const size = cuts[i % Math.max(1, cuts.length)] ?? 3;
        hear(stream.subarray(at, at + size));
        at += size;
      }
      expect(sent).toEqual(ids.filter((id) => id < 3).map((id) => shown(withCrc(hex(id === 1 ? '01 04 02 03 E8' : '02 04 02 07 D0')))));
    }));
  });

  it('answers other functions after a silence, and keeps silent on noise, broadcasts and damaged frames', async () => {
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
    onTestFinished(() => void vi.useRealTimers());
    const { hear, sent, rtu } = line(1);
    const damaged = request(1, 4, 0, 2, 0, 1);
    damaged[3] = 9;
    hear(damaged);
    hear(request(0, 4, 0, 2, 0, 1));
    // What follows within the silence belongs to the damage.
    vi.advanceTimersByTime(25);
    hear(request(1, 6, 0, 0, 0, 1));
    expect(sent).toEqual([]);
    vi.advanceTimersByTime(25);
    expect(sent).toEqual(['01 86 01 83 A0']);
    rtu.keepSilent(true);
    hear(request(1, 4, 0, 2, 0, 1));
    expect(sent).toHaveLength(1);
    await rtu.unplug();
  });
});

describe('over TCP', () => {
  async function asked(request: string, answers: number, instruments = [new ModbusInstrument()]) {
    instruments.forEach((instrument) => instrument.show({ time: 0, pressure: 100, flags: 0 }));
    const server = await listenModbusTcp(instruments);
    cleanups.push(() => server.close());
    const socket = connect(server.port, server.host);
    let heard = Buffer.alloc(0);
    let closed = false;
    socket.on('data', (bytes: Buffer) => (heard = Buffer.concat([heard, bytes])));
    socket.on('close', () => (closed = true));
    socket.on('error', () => undefined);
    for (const byte of hex(request)) socket.write(Buffer.from([byte]));
    await until('it has answered', () => heard.length >= answers || closed);
    return { heard: shown(heard), closed };
  }

  it('answers requests that come together, in order, each with its transaction number', async () => {
    const { heard } = await asked('12 34 00 00 00 06 01 04 00 02 00 01 12 35 00 00 00 06 FF 04 00 02 00 01', 22);
    expect(heard).toBe('12 34 00 00 00 05 01 04 02 03 E8 12 35 00 00 00 05 FF 04 02 03 E8');
  });

  it('answers for an id that nobody has as a gateway does', async () => {
    expect((await asked('00 01 00 00 00 06 09 04 00 02 00 01', 9)).heard).toBe('00 01 00 00 00 03 09 84 0B');
    const two = [new ModbusInstrument({ unitId: 1 }), new ModbusInstrument({ unitId: 2 })];
    expect((await asked('00 01 00 00 00 06 00 04 00 02 00 01', 9, two)).heard).toBe('00 01 00 00 00 03 00 84 0B');
  });

  it('closes a connection that does not speak Modbus', async () => {
    expect((await asked('47 45 54 20 2F 20 48 54', 99)).closed).toBe(true);
  });
});

describe('contacts', () => {
  it('follow the operator: lid, then pump, then vent', () => {
    const { bench } = runScenario('pass-plain', 1);
    const [cycle] = bench.cycles;
    if (cycle === undefined) throw new Error('no cycle');
    expect(contactsAt(bench, cycle.rising - 0.5)).toEqual({ lidClosed: true, pumpOn: false, ventOpen: true });
    expect(contactsAt(bench, cycle.rising + 0.1)).toEqual({ lidClosed: true, pumpOn: true, ventOpen: false });
    expect(contactsAt(bench, cycle.settled)).toEqual({ lidClosed: true, pumpOn: false, ventOpen: false });
    expect(contactsAt(bench, cycle.vented + 1)).toEqual({ lidClosed: true, pumpOn: false, ventOpen: true });
    expect(contactsAt(bench, cycle.vented + 10).lidClosed).toBe(false);
  });
});
