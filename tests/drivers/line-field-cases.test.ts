import { linearRegression } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { LineFramer } from '../../drivers/line-framer.js';
import { FakeWiring } from './fake-wiring.js';
import { listen } from './listen.js';

const hex = (text: string) => Uint8Array.from(text.split(' '), (byte) => Number.parseInt(byte, 16));

/** Each case is a public issue thread of someone whose instrument did this; the thread is named beside it. */
describe('field cases of lines', () => {
  // https://github.com/serialport/node-serialport/issues/2000, /issues/1714
  it('FC-01: lines are made of bytes, not of chunks', () => {
    const link = listen();
    for (const chunk of ['35', '0.2\r\n35', '0.3\r', '\n350.4\r\n']) {
      link.clock.pass(0.01);
      link.wiring.receive(chunk);
    }
    expect(link.values()).toEqual([350.2, 350.3, 350.4]);
    expect(link.faults()).toEqual([]);
    // A sample is stamped when its line end arrives.
    expect(link.items.filter((item) => item.kind === 'reading').map((item) => item.time)).toEqual([0.02, 0.03, 0.04]);
  });

  // https://github.com/serialport/node-serialport/issues/1752
  describe('FC-02: a line end that does not come', () => {
    const bytes = '+0101.3\r+0101.4\r';
    it('is not needed as LF: CR alone ends a line', () => {
      const link = listen();
      link.wiring.receive(bytes);
      expect(link.values()).toEqual([101.3, 101.4]);
    });
    it('is told once, with the control bytes that came', () => {
      const link = listen({ delimiter: '\n' });
      link.wiring.receive(bytes);
      link.clock.pass(2.9);
      expect(link.notices()).toEqual([]);
      link.clock.pass(0.2);
      link.wiring.receive(bytes);
      link.clock.pass(60);
      expect(link.values()).toEqual([]);
      const notices = link.items.filter((item) => item.kind === 'notice' && item.code === 'no-line-end');
      expect(notices).toHaveLength(1);
      expect(notices[0]).toMatchObject({ time: 3, text: expect.stringMatching(/no line end \(LF\).*CR 2 times/) as string });
    });
    it.each([['LF CR', undefined, '101.3\n\r101.4\n\r'], ['a semicolon', ';', '101.3;101.4;'], ['CR LF forced', '\r\n', '101.3\r\n101.4\r\n']])(
      'may be %s',
      (_name, delimiter, text) => {
        const link = listen({ ...(delimiter !== undefined && { delimiter }) });
        link.wiring.receive(text);
        expect(link.values()).toEqual([101.3, 101.4]);
      },
    );
  });

  // https://github.com/ecdavis/pants/issues/10, https://github.com/jahewson/node-byline/pull/24
  describe('FC-03: no line end at all', () => {
    it('costs one oversize line, and the next line is read', () => {
      const link = listen();
      const chunk = Buffer.alloc(64 * 1024, 'A');
      for (let i = 0; i < 160; i++) link.wiring.receive(chunk);
      link.wiring.receive('\n123.4\n');
      expect(link.faults()).toEqual(['oversize']);
      expect(link.values()).toEqual([123.4]);
    });
    it.each([[null, '\n'], ['\r\n', '\r\n']])('never holds more than the limit (delimiter %j)', (delimiter, end) => {
      const framer = new LineFramer(delimiter === null ? null : Buffer.from(delimiter), 4096, true);
      const lines: string[] = [];
      let oversize = 0;
      const sink = { line: (text: string) => lines.push(text), oversize: () => oversize++ };
      for (let i = 0; i < 100; i++) {
        framer.push(Buffer.alloc(65_536, 'A'), sink);
        expect(framer.rest.length).toBeLessThanOrEqual(4096);
      }
      framer.push(Buffer.from(`${end}${'B'.repeat(4096)}${end}${'C'.repeat(4097)}${end}123.4${end}`), sink);
      expect(oversize).toBe(2);
      expect(lines.map((line) => [line.charAt(0), line.length])).toEqual([['B', 4096], ['1', 5]]);
    });
  });

  // https://github.com/N0ury/dmm_util/issues/26, https://github.com/SweepMe/instrument-drivers/pull/262
  it('FC-06: words and stand-ins for over and under range are never numbers', () => {
    const link = listen();
    link.lines('350.1', '+OL', '-OL', '----', 'ERR', '+9.90000000E+37', '-9.91E37', '350.2');
    expect(link.values()).toEqual([350.1, 350.2]);
    expect(link.faults()).toEqual(['over-range', 'under-range', 'no-reading', 'error-word', 'over-range', 'under-range']);
    expect(Math.max(...link.values())).toBe(350.2);
  });

  // https://github.com/thomasnordquist/MQTT-Explorer/issues/91, https://github.com/CarlVerret/csFastFloat/issues/96
  describe('FC-07: decimal comma and thousands', () => {
    it.each([
      ['comma', ['350,25', '1.234,5', '1,234.5'], [350.25, 1234.5]],
      ['point', ['350.25', '1,234.5', '350,25'], [350.25, 1234.5]],
    ])('format %s takes whole numbers of its own form only', (numberFormat, lines, values) => {
      const link = listen({ numberFormat });
      link.lines(...lines);
      expect(link.values()).toEqual(values);
      expect(link.faults()).toEqual(['malformed']);
    });
    it('does not guess what a bare 1,234 or 1.234 means', () => {
      const point = listen({ numberFormat: 'point' });
      point.lines('1,234');
      expect(point.faults()).toEqual(['malformed']);
      const comma = listen({ numberFormat: 'comma' });
      comma.lines('1.234');
      expect(comma.faults()).toEqual(['malformed']);
    });
  });

  // https://github.com/serialport/node-serialport/issues/2137, /issues/1209
  describe('FC-08: parity or baud rate is wrong', () => {
    /** Characters as they are on the wire: `352.1` CR LF with even parity in the top bit. */
    const wire = hex('33 35 B2 2E B1 8D 0A');
    it('damages whole lines, hints once, and never gives 35', () => {
      const link = listen({ firstLine: 'drop' });
      for (let i = 0; i < 10; i++) link.wiring.receive(wire);
      expect(link.values()).toEqual([]);
      expect(link.faults()).toEqual(Array<string>(10).fill('damaged'));
      expect(link.notices()).toEqual(['check-parity']);
      expect(link.items.find((item) => item.kind === 'fault')?.raw).toBe('35\\xB2.\\xB1\\x8D');
    });
    it('is right with 7E1: the port is asked for it, and gives seven bits', () => {
      const link = listen({ dataBits: 7, parity: 'even' });
      expect(link.wiring.opened).toMatchObject([{ kind: 'serial', dataBits: 7, parity: 'even', stopBits: 1 }]);
      const ones = (byte: number) => byte.toString(2).replaceAll('0', '').length;
      // What a UART does with 7E1: every character has even parity, and the parity bit does not reach the program.
      expect([...wire].every((byte) => ones(byte) % 2 === 0)).toBe(true);
      link.wiring.receive(wire.map((byte) => byte & 0x7f));
      expect(link.values()).toEqual([352.1]);
    });
    it('lines that are whole but no numbers are no reason to suspect the parity', () => {
      const link = listen();
      for (let i = 0; i < 20; i++) link.lines('hello');
      for (let i = 0; i < 9; i++) link.wiring.receive(wire);
      link.lines('hello');
      link.wiring.receive(wire);
      expect(link.notices()).toEqual([]);
    });
    it('a good line in between begins the count anew', () => {
      const link = listen();
      for (let i = 0; i < 9; i++) link.wiring.receive(wire);
      link.lines('350.0');
      for (let i = 0; i < 9; i++) link.wiring.receive(wire);
      expect(link.notices()).toEqual([]);
      link.wiring.receive(wire);
      expect(link.notices()).toEqual(['check-parity']);
    });
  });

  // https://github.com/serialport/node-serialport/issues/174, https://github.com/mlt/schwinn810/issues/26
  it.each(['350.2350.3', '-200.coor:1', '350.2 350.3', '350.2bar350.3bar', '350.', '3 50.2', '350.2x', '0x1F', 'Infinity', '1e999'])(
    'FC-09: the field must be a number as a whole: %s is none',
    (line) => {
      const link = listen();
      link.lines(line);
      expect(link.values()).toEqual([]);
      expect(link.faults()).toEqual(['malformed']);
    },
  );

  // https://github.com/serialport/node-serialport/issues/867, /issues/1605, https://github.com/pyserial/pyserial/issues/124
  it('FC-10: NUL bytes, banner and zeros after opening are neither samples nor damage', () => {
    const link = listen({ settleAfterOpen: '2 s', dtr: 'leave' });
    link.clock.pass(0.5);
    link.wiring.receive(hex('00 00 0D 0A 42 4F 4F 54 20 76 31 2E 32 0D 0A 30 2E 30 0D 0A'));
    for (let i = 0; i < 40; i++) {
      link.clock.pass(0.1);
      link.lines('351.0');
    }
    const readings = link.items.filter((item) => item.kind === 'reading');
    expect(readings[0]).toMatchObject({ value: 351 });
    expect(readings[0]?.time).toBeGreaterThanOrEqual(2);
    expect(readings[0]?.time).toBeLessThan(2.15);
    expect(new Set(link.values())).toEqual(new Set([351]));
    expect(link.faults()).toEqual([]);
    expect(link.notices()).toEqual(['device-restart']);
    expect(link.dropped()).toContain('settling: 0.0');
    expect(link.wiring.opened).toMatchObject([{ dtr: 'leave' }]);
  });

  // https://github.com/Fazecast/jSerialComm/pull/369, /issues/355, https://github.com/eblot/pyftdi/pull/338
  it('FC-11: readings handed out in bunches lose nothing, and a fit over all of them has the right slope', () => {
    const link = listen();
    for (let k = 1; k <= 64; k++) {
      link.clock.to((Math.ceil((5 * k) / 16 - 1e-9) * 16) / 1000);
      link.lines((100 + 0.1 * k).toFixed(1));
    }
    const points = link.items.flatMap((item) => (item.kind === 'reading' ? [[item.time, item.value] as [number, number]] : []));
    expect(points).toHaveLength(64);
    const { m } = linearRegression(points);
    expect(m).toBeGreaterThan(19.5);
    expect(m).toBeLessThan(20.5);
  });
});

describe('half a line', () => {
  it('at the end of the link is told and is no number', () => {
    const link = listen();
    link.wiring.receive('120.6\r\n120.5'.slice(0, -2));
    link.wiring.lose();
    expect(link.values()).toEqual([120.6]);
    expect(link.dropped()).toEqual(['cut-off: 120']);
    expect(link.error()).toMatchObject({ name: 'LinkError', code: 'lost' });
  });
  it('at the beginning is dropped, and the next line is read', () => {
    const link = listen({ firstLine: 'drop' });
    link.wiring.receive('0.2\r\n350.3\r\n');
    expect(link.values()).toEqual([350.3]);
    expect(link.dropped()).toEqual(['first-line: 0.2']);
    expect(link.faults()).toEqual([]);
  });
  it('does not join the first line of the next opening', () => {
    const wiring = new FakeWiring();
    const before = listen({ firstLine: 'drop' }, wiring);
    wiring.receive('+01.0\r\n+01');
    wiring.lose();
    expect(before.dropped()).toEqual(['first-line: +01.0', 'cut-off: +01']);
    const after = listen({ firstLine: 'drop' }, wiring);
    wiring.receive('3\r\n+02.0\r\n');
    expect(after.values()).toEqual([2]);
    expect(wiring.openLinks).toBe(1);
  });
});
