import { describe, expect, it } from 'vitest';
import { TcpFraming } from '../../drivers/modbus-tcp-framing.js';
import { decodeValue, valueSchema } from '../../drivers/modbus-values.js';
import { readAnswer } from '../../drivers/modbus-pdu.js';
import { benchLink } from '../acquisition/bench-link.js';
import { bytesOf, modbusLink, rtu } from './modbus-link.js';
import { Flag } from '../../src/core/trace.js';

const value = (more: Readonly<Record<string, unknown>>) => valueSchema.parse({ address: 0, type: 'float32', ...more });

describe('what goes wrong with Modbus in the field', () => {
  // https://github.com/eModbus/eModbus/issues/74, https://github.com/pymodbus-dev/pymodbus/pull/375
  it('FC-12: a late RTU answer is never that of the next question', () => {
    const link = modbusLink({
      every: '2 s', answerWithin: '300 ms',
      values: [{ value: 'pressure', address: 0, type: 'float32' }, { value: 'temperature', address: 16, type: 'float32' }],
    });
    expect(link.sent()).toEqual(['01 03 00 00 00 02 C4 0B']);
    link.clock.to(0.35);
    link.receive('01 03 04 43 AF 00 00 DF 96');
    link.clock.to(0.64);
    expect(link.sent()).toHaveLength(1);
    link.clock.to(0.66);
    expect(link.sent()[1]).toBe('01 03 00 10 00 02 C5 CE');
    link.clock.pass(0.11);
    link.receive('01 03 04 41 C4 00 00 AF F2');
    expect(link.faults()).toEqual(['pressure no-answer']);
    expect(link.dropped()).toEqual(['unasked 01 03 04 43 AF 00 00 DF 96']);
    expect(link.readings()).toEqual(['temperature 24.5']);
    for (let cycle = 1; cycle <= 3; cycle++) {
      link.clock.to(2 * cycle + 0.02);
      link.receive('01 03 04 43 AF 00 00 DF 96');
      link.clock.pass(0.02);
      link.receive('01 03 04 41 C4 00 00 AF F2');
    }
    expect(link.readings().slice(1)).toEqual(['pressure 350', 'temperature 24.5', 'pressure 350', 'temperature 24.5', 'pressure 350', 'temperature 24.5']);
    expect(link.faults()).toHaveLength(1);
  });

  // https://github.com/grid-x/modbus/issues/26, https://github.com/goburrow/modbus/issues/64
  it('FC-13: on TCP an old number is dropped and the right answer behind it is taken, without a reconnect', () => {
    const framing = new TcpFraming(0x53);
    const block = { unitId: 1, table: 'holding', functionCode: 3, start: 0, count: 2, values: [] } as const;
    framing.ask(block);
    const told: string[] = [];
    const packet = bytesOf('00 52 00 00 00 07 01 03 04 43 AF 00 00 00 53 00 00 00 07 01 03 04 43 AF 80 00');
    framing.push(packet, {
      answer: (a) => told.push(a.kind === 'content' ? String(Buffer.from(a.bytes).readFloatBE()) : 'refusal'),
      unasked: () => told.push('stale'), wrong: () => told.push('wrong'), broken: () => told.push('broken'),
    });
    expect(told).toEqual(['stale', '351']);
  });
  it('FC-13: nor does a time-out put it out of step', () => {
    const link = modbusLink({ driver: 'modbus-tcp' });
    expect(link.sent()).toEqual(['00 01 00 00 00 06 01 03 00 00 00 02']);
    link.clock.to(1.01);
    link.receive('00 01 00 00 00 07 01 03 04 43 AF 00 00 00 02 00 00 00 07 01 03 04 43 AF 80 00');
    link.clock.to(2.01);
    link.receive('00 03 00 00 00 07 01 03 04 43 AF 00 00');
    expect(link.faults()).toEqual(['pressure no-answer']);
    expect(link.values()).toEqual([351, 350]);
    expect(link.dropped()).toHaveLength(1);
    expect(link.error()).toBeUndefined();
    expect(link.wiring.opened).toHaveLength(1);
  });

  // https://github.com/stephane/libmodbus/issues/358, https://github.com/OpenEMS/openems/issues/86
  it.each([
    ['43 AF 00 00', 'ABCD', 350], ['00 00 43 AF', 'CDAB', 350], ['AF 43 00 00', 'BADC', 350], ['00 00 AF 43', 'DCBA', 350],
  ] as const)('FC-14: %s in order %s is %d', (hex, order, right) => {
    expect(decodeValue(value({ order }), bytesOf(hex))).toMatchObject({ value: right });
  });
  it('FC-14: 07 7A 42 9B in order CDAB is 77.5146; halves of two values are no pressure', () => {
    const said = decodeValue(value({ order: 'CDAB' }), bytesOf('07 7A 42 9B'));
    expect('value' in said ? said.value : NaN).toBeCloseTo(77.5146, 4);
    // Registers 43AF 0000 41C4 0000 from 0, read from address 1: 2.4e-41.
    expect(decodeValue(value({}), bytesOf('00 00 41 C4'))).toMatchObject({ fault: 'implausible', otherwise: expect.stringMatching(/^2\.4e-41 is no measurement; order or address/) as string });
  });

  // https://github.com/home-assistant/core/issues/54345
  it('FC-15: an exception is a missing sample with its reason, never zero', () => {
    const link = benchLink({ input: { driver: 'modbus-rtu', path: '/dev/ttyBENCH', addressBase: 0, every: '1 s', values: [{ address: 0, type: 'float32' }] } });
    for (const answer of [bytesOf('01 03 04 43 AF 00 00 DF 96'), bytesOf('01 83 06 C1 32'), rtu('01 03 04 43 AF 80 00')]) {
      link.clock.pass(0.02);
      link.wiring.receive(answer);
      link.clock.pass(0.98);
    }
    expect(link.samples().map(({ pressure, flags, raw, fault }) => [pressure, flags, fault, fault && raw])).toEqual([
      [350, Flag.good, undefined, undefined], [NaN, Flag.unreadable, 'busy', 'exception 6: server device busy'], [351, Flag.good, undefined, undefined],
    ]);
    expect(link.wiring.sent).toHaveLength(4);
  });
  it('FC-15: 5 and 6 mean later, 1 to 3 a wrong set-up that is told once, 11 that the slave behind the gateway is silent', () => {
    const said = (code: number) => {
      const link = modbusLink({ driver: 'modbus-tcp' });
      for (let i = 1; i <= 3; i++) {
        link.receive(`00 0${i} 00 00 00 03 01 83 ${code.toString(16).padStart(2, '0')}`);
        link.clock.pass(1);
      }
      return [new Set(link.faults()), link.notices().map(({ code: notice }) => notice)];
    };
    for (const code of [5, 6]) expect(said(code)).toEqual([new Set(['pressure busy']), []]);
    for (const code of [1, 2, 3]) expect(said(code)).toEqual([new Set(['pressure refused']), ['check-setup']]);
    for (const code of [10, 11]) expect(said(code)).toEqual([new Set(['pressure no-answer']), []]);
    for (const code of [4, 8]) expect(said(code)).toEqual([new Set(['pressure error-word']), []]);
  });

  // https://github.com/home-assistant/core/issues/69656, https://github.com/sunspec/pysunspec/issues/100
  it('FC-16: patterns for no value are missing samples, whatever their bits', () => {
    const link = modbusLink({});
    for (const answer of ['01 03 04 7F C0 00 00 E3 DB', '01 03 04 7F BF FF 80 92 53']) {
      link.receive(answer);
      link.clock.pass(1);
    }
    expect(link.faults()).toEqual(['pressure no-reading', 'pressure no-reading']);
    const word = modbusLink({ values: [{ address: 0, type: 'int16', noValue: [0x8000] }] });
    word.receive('01 03 02 80 00 D9 84');
    expect(word.faults()).toEqual(['pressure no-reading']);
    expect([...link.values(), ...word.values()]).toEqual([]);
    for (const infinite of ['7F 80 00 00', 'FF 80 00 00']) expect(decodeValue(value({}), bytesOf(infinite))).toMatchObject({ fault: 'no-reading' });
  });
  it.each([
    ['int16', '80 00', [-32_768]], ['int16', '80 00', ['0x8000']], ['uint16', 'FF FF', [65_535]], ['int16', 'FF FF', ['0xFFFF']], ['int32', '7F FF FF FF', [0x7fff_ffff]],
    ['uint32', 'FF FF FF FF', ['0xFFFFFFFF']], ['float32', 'C6 1C 3C 00', [-9999]], ['float64', '40 C3 88 00 00 00 00 00', [10_000]],
  ] as const)('FC-16: listed for %s, %s is no value', (type, hex, noValue) => {
    expect(decodeValue(value({ type, noValue }), bytesOf(hex))).toMatchObject({ fault: 'no-reading' });
    expect(decodeValue(value({ type }), bytesOf(hex))).toHaveProperty('value');
  });

  // https://github.com/pyhys/minimalmodbus/issues/24, https://github.com/openhab/openhab1-addons/issues/4121
  it('FC-17: a small negative number read as unsigned is implausible, with a hint, and no over-pressure', () => {
    const at = (type: string) => {
      const link = benchLink({ input: { driver: 'modbus-rtu', path: '/dev/ttyBENCH', addressBase: 0, every: '1 s', values: [{ address: 0, type, scale: 0.1 }] } });
      link.clock.pass(0.02);
      link.wiring.receive(rtu('01 03 02 FF FB'));
      return link;
    };
    expect(at('int16').good()).toEqual([-0.5]);
    const unsigned = at('uint16');
    expect(unsigned.samples()).toMatchObject([{ flags: Flag.implausible, pressure: NaN, fault: 'implausible' }]);
    expect(unsigned.acquired.filter((item) => item.kind === 'notice' && item.code === 'check-setup')).toMatchObject([{ text: expect.stringMatching(/read as int16 it is -0\.5: is it signed\?/) as string }]);
  });

  // https://github.com/ModbusScope/ModbusScope/issues/17, https://github.com/sanny32/OpenModScan/issues/62
  it.each(['modbus-rtu', 'modbus-tcp'])('FC-18: %s: a slow slave is asked on the next tick of the grid, and not flooded after an outage', (driver) => {
    const link = modbusLink({ driver, every: '100 ms', answerWithin: '500 ms' });
    const asked: number[] = [];
    let wait: number | null = 0.14;
    let open = 0;
    let mostOpen = 0;
    let probed = false;
    const answer = (request: Buffer) => {
      // After a time-out a question of another length begins the round, and the real one follows its answer.
      const follows = driver === 'modbus-rtu' && request[5] === 2 && probed;
      if (!follows) asked.push(link.clock.now());
      probed = driver === 'modbus-rtu' && request[5] === 1;
      mostOpen = Math.max(mostOpen, ++open);
      if (wait === null) return open--;
      // After a time-out the driver may ask for another number of registers first.
      const frame = driver === 'modbus-rtu' ? rtu(request[5] === 2 ? '01 03 04 43 AF 00 00' : '01 03 02 43 AF') : Buffer.concat([request.subarray(0, 2), bytesOf('00 00 00 07 01 03 04 43 AF 00 00')]);
      return link.clock.after(wait, () => {
        open--;
        link.wiring.receive(frame);
      });
    };
    link.wiring.onSend = (text) => answer(Buffer.from(text, 'latin1'));
    answer(Buffer.from(link.wiring.sent[0] ?? '', 'latin1'));
    link.clock.to(10);
    expect(mostOpen).toBe(1);
    expect(link.values().length).toBeGreaterThanOrEqual(49);
    expect(link.values().length).toBeLessThanOrEqual(51);
    wait = null;
    link.clock.to(15);
    wait = 0.02;
    const before = link.values().length;
    link.clock.to(20);
    expect(link.values().length - before).toBeGreaterThan(40);
    link.clock.to(20.09);
    asked.slice(1).forEach((time, i) => expect(time - (asked[i] ?? 0)).toBeGreaterThan(0.0999));
    const skipped = link.notices().filter(({ code }) => code === 'poll-skipped').reduce((sum, { count }) => sum + (count ?? 1), 0);
    // Every tick is a reading, a fault or counted.
    expect(link.values().length + link.faults().length + skipped).toBe(201);
    for (const time of asked) expect(Math.abs(time * 10 - Math.round(time * 10))).toBeLessThan(1e-6);
  });

  it('an answer with another byte count, function or slave is none', () => {
    const block = { unitId: 1, table: 'holding', functionCode: 3, start: 0, count: 2, values: [] } as const;
    expect(readAnswer(block, bytesOf('03 02 43 AF'))).toBeNull();
    expect(readAnswer(block, bytesOf('04 04 43 AF 00 00'))).toBeNull();
    expect(readAnswer(block, bytesOf('03 04 43 AF 00'))).toBeNull();
    const link = modbusLink({});
    // Slave 2 answers a question to slave 1 (right checksum): not taken, told as malformed at the deadline.
    link.wiring.receive(rtu('02 03 04 43 AF 00 00'));
    link.clock.to(0.4);
    expect(link.values()).toEqual([]);
    expect(link.faults()).toEqual(['pressure malformed']);
  });
});

describe('a late RTU answer, however late', () => {
  const values = [{ value: 'pressure', address: 0, type: 'float32' }, { value: 'temperature', address: 16, type: 'float32' }];
  it('finds a question of another length open, until the slave has shown that nothing older can follow', () => {
    const link = modbusLink({ every: '1 s', answerWithin: '300 ms', values });
    // The answer to the first question comes only after 1.05 s, while the next round has begun.
    link.clock.to(1.05);
    expect(link.sent()).toEqual(['01 03 00 00 00 02 C4 0B', '01 03 00 00 00 01 84 0A']);
    expect(link.faults()).toEqual(['pressure no-answer', 'temperature no-answer']);
    link.receive('01 03 04 43 AF 00 00 DF 96');
    expect(link.values()).toEqual([]);
    link.wiring.receive(rtu('01 03 02 43 AF'));
    link.clock.pass(0.01);
    expect(link.sent().at(-1)).toBe('01 03 00 00 00 02 C4 0B');
    link.wiring.receive(rtu('01 03 04 43 AF 80 00'));
    expect(link.readings()).toEqual(['pressure 351']);
    link.clock.pass(0.03);
    link.receive('01 03 04 41 C4 00 00 AF F2');
    expect(link.readings()).toEqual(['pressure 351', 'temperature 24.5']);
    expect(link.dropped()).toEqual(['unasked 01 03 04 43 AF 00 00 DF 96']);
  });
  it('an answer that never comes costs one more question', () => {
    const link = modbusLink({ every: '1 s', answerWithin: '300 ms', values: values.slice(0, 1) });
    link.clock.to(1.01);
    expect(link.sent()[1]).toBe('01 03 00 00 00 01 84 0A');
    link.wiring.receive(rtu('01 03 02 43 AF'));
    link.clock.pass(0.01);
    link.receive('01 03 04 43 AF 00 00 DF 96');
    expect(link.values()).toEqual([350]);
    expect(link.notices()).toEqual([]);
  });
  it('a refusal of that question is an answer, too', () => {
    const link = modbusLink({ every: '1 s', answerWithin: '300 ms', values: values.slice(0, 1) });
    link.clock.to(1.01);
    link.receive('01 83 02 C0 F1');
    link.clock.pass(0.01);
    link.receive('01 03 04 43 AF 00 00 DF 96');
    expect(link.values()).toEqual([350]);
    expect(link.faults()).toEqual(['pressure no-answer']);
  });
});
