import { closeSync, constants, openSync, readSync, writeFileSync } from 'node:fs';
import { createServer, type Server } from 'node:net';
import { once } from 'node:events';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parse } from 'yaml';
import { afterEach, describe, expect, it } from 'vitest';
import { tables } from '../../drivers/modbus-values.js';
import type { LinkError } from '../../drivers/wiring.js';
import { ModbusInstrument } from '../../simulators/instruments/modbus-instrument.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { FakeWiring } from '../drivers/fake-wiring.js';
import { ForeignProgram, freePort } from '../drivers/foreign-program.js';
import { withCrc } from '../../drivers/modbus-rtu-framing.js';
import { PtyPair, until } from '../drivers/pty-pair.js';
import { sniffed } from './sniff-request.js';

const script = fileURLToPath(new URL('../drivers/pymodbus-server.py', import.meta.url));
interface Layout {
  readonly layout: readonly { type: string; order: string; address: number; value: number }[];
}

let pair: PtyPair | undefined;
let programs: ForeignProgram[] = [];
let timer: NodeJS.Timeout | undefined;
let server: Server | undefined;
afterEach(async () => {
  clearInterval(timer);
  server?.close();
  for (const program of programs) await program.stop();
  programs = [];
  await pair?.remove();
  pair = undefined;
});
const run = (command: string, ...args: string[]): ForeignProgram => {
  const program = new ForeignProgram(command, args);
  programs.push(program);
  return program;
};
async function plugged(): Promise<PtyPair> {
  pair = new PtyPair();
  await pair.plug();
  return pair;
}
interface Back {
  readonly pressures: readonly number[];
  readonly faults: readonly string[];
}
const back = (json: Readonly<Record<string, unknown>>) => json['readBack'] as Back;
const inputOf = (bench: string | null) => parseBench(parse(bench ?? ''), 'BENCH.yaml').channel.input;

describe('an instrument that sends lines, on a real serial device', () => {
  it('is heard, read with what was found, and not a byte is sent to it', async () => {
    const cable = await plugged();
    // The instrument's end, read as well: whatever is sent would lie here.
    const ear = openSync(cable.far, constants.O_RDWR | constants.O_NOCTTY | constants.O_NONBLOCK);
    let next = 0;
    timer = setInterval(() => cable.send(`+${(350 + (next++ % 7) / 20).toFixed(2).padStart(7, '0')} bar\r\n`), 20);
    const { bench, json, report } = await sniffed({ target: { kind: 'serial', path: cable.path }, wanted: { expect: 350, range: { lower: 0, upper: 600 } }, each: 20 });
    expect(inputOf(bench)).toMatchObject({ driver: 'serial-line', path: cable.path, baudRate: 9600, parity: 'none' });
    expect(parseBench(parse(bench ?? ''), 'BENCH.yaml').channel).toMatchObject({ unit: 'bar', range: { lower: 0, upper: 600 } });
    expect(back(json).faults).toEqual([]);
    expect(back(json).pressures.length).toBeGreaterThan(3);
    for (const pressure of back(json).pressures) expect(Math.abs(pressure - 350.15)).toBeLessThan(0.2);
    expect(report.join('\n')).toMatch(/0000 {2}[0-9a-f ]+ {2}.*bar\.\./);
    expect(() => readSync(ear, Buffer.alloc(64))).toThrow(expect.objectContaining({ code: 'EAGAIN' }) as Error);
    closeSync(ear);
  });

  it('that is silent is told as such, with what to look at; asked with its question it answers', async () => {
    const cable = await plugged();
    const silent = await sniffed({ target: { kind: 'serial', path: cable.path }, each: 0.2, known: { bauds: [9600, 19_200] } });
    expect(silent.bench).toBeNull();
    expect(silent.report.at(-1)).toMatch(/^Nothing arrived in 0\.\d s at 9600, 19200 baud; check that .*--ask .*--modbus\.$/);
    const ear = openSync(cable.far, constants.O_RDWR | constants.O_NOCTTY | constants.O_NONBLOCK);
    let asked = '';
    timer = setInterval(() => {
      const room = Buffer.alloc(64);
      try {
        const length = readSync(ear, room);
        asked += room.toString('latin1', 0, length);
        for (let i = 0; i < room.toString('latin1', 0, length).split('?P\r').length - 1; i++) cable.send('550,2;bar\r');
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code !== 'EAGAIN') throw error;
      }
    }, 5);
    const { bench, json } = await sniffed({ target: { kind: 'serial', path: cable.path }, ask: '?P\r', wanted: { expect: 550 }, each: 1.5 });
    expect(inputOf(bench)).toMatchObject({ numberFormat: 'comma', poll: { query: '?P\r' } });
    expect(back(json).pressures).toContain(550.2);
    expect(asked.replaceAll('?P\r', '')).toBe('');
    closeSync(ear);
  });

  it('what is no text is told as such', async () => {
    const cable = await plugged();
    timer = setInterval(() => cable.send(Uint8Array.from([0xf8, 0x00, 0xe1, 0x9c, 0x80, 0xff, 0x17, 0xc3, 0x92, 0xa0])), 5);
    const { bench, report } = await sniffed({ target: { kind: 'serial', path: cable.path }, each: 3, known: { bauds: [9600, 115_200] } });
    expect(bench).toBeNull();
    expect(report.at(-1)).toMatch(/^Bytes arrive and are text at none of these bauds\. /);
  });

  it('a port that is not there is refused with a sentence', async () => {
    await expect(sniffed({ target: { kind: 'serial', path: '/dev/ttyNOWHERE' } })).rejects.toMatchObject({ name: 'LinkError', code: 'missing', message: expect.stringContaining('/dev/ttyNOWHERE is not there') as string } satisfies Partial<LinkError>);
  });

  it('ends at once when it is told to, with what it knows by then', async () => {
    const cable = await plugged();
    const stop = new AbortController();
    const seen: string[] = [];
    timer = setInterval(() => {
      cable.send('12.3 bar\r\n');
      seen.push('12.3 bar');
      if (seen.length === 5) stop.abort();
    }, 20);
    const { report, bench } = await sniffed({ target: { kind: 'serial', path: cable.path }, each: 500, limit: 600 }, undefined, stop.signal);
    expect(report.join('\n')).toContain('12.3 bar');
    expect(bench).toContain('driver: serial-line');
  });
});

describe('over TCP', () => {
  it('lines are read, and a place where nothing listens is refused', async () => {
    server = createServer((socket) => {
      const each = setInterval(() => socket.write('P= 55.02 MPa\r\n'), 10);
      socket.on('error', () => {});
      socket.on('close', () => clearInterval(each));
    }).listen(0, '127.0.0.1');
    await once(server, 'listening');
    const address = server.address();
    const port = typeof address === 'object' ? (address?.port ?? 0) : 0;
    const { bench, json } = await sniffed({ target: { kind: 'tcp', host: '127.0.0.1', port }, each: 20 });
    expect(inputOf(bench)).toMatchObject({ driver: 'tcp-line', host: '127.0.0.1', port });
    expect(back(json).pressures[0]).toBeCloseTo(550.2, 6);
    await expect(sniffed({ target: { kind: 'tcp', host: '127.0.0.1', port: await freePort() } })).rejects.toMatchObject({ code: 'refused' });
  });
});

describe('Modbus', () => {
  /** A slave at the other end of a wire without copper. */
  function slave(tcp: boolean, unitId: number): FakeWiring {
    const wiring = new FakeWiring();
    const instrument = new ModbusInstrument({ unitId });
    let time = 0;
    wiring.onSend = (text) => {
      const frame = Buffer.from(text, 'latin1');
      instrument.show({ time: ++time, pressure: 0.2 + (time % 5) / 20, flags: 0 });
      const answer = (pdu: Buffer) => {
        const bytes = instrument.answer(pdu);
        const whole = tcp ? Buffer.concat([frame.subarray(0, 4), Uint8Array.of(0, bytes.length + 1, unitId), bytes]) : withCrc(Uint8Array.of(unitId, ...bytes));
        queueMicrotask(() => wiring.receive(whole));
      };
      if (frame[tcp ? 6 : 0] === unitId) answer(tcp ? frame.subarray(7) : frame.subarray(1, -2));
    };
    return wiring;
  }
  it.each([['RTU', false], ['TCP', true]] as const)('%s: only functions 1 to 4 are ever sent, each to a unit id that was wanted', async (_name, tcp) => {
    const wiring = slave(tcp, 2);
    const target = tcp ? ({ kind: 'tcp', host: '192.0.2.7', port: 502 } as const) : ({ kind: 'serial', path: '/dev/ttyBENCH' } as const);
    const { bench, json } = await sniffed({ target, how: 'modbus', answerWithin: 0.02, wanted: { range: { lower: 0, upper: 1000 } } }, wiring);
    const sent = wiring.sent.map((text) => Buffer.from(text, 'latin1'));
    expect(sent.length).toBeGreaterThan(20);
    expect(new Set(sent.map((frame) => frame[tcp ? 7 : 1]))).toEqual(new Set(Object.values(tables)));
    expect(sent.every((frame) => frame.length === (tcp ? 12 : 8) && [1, 2, 3].includes(frame[tcp ? 6 : 0] ?? 0))).toBe(true);
    expect(inputOf(bench)).toMatchObject({ driver: tcp ? 'modbus-tcp' : 'modbus-rtu', unitId: 2, values: [{ table: 'holding', address: 0, type: 'float32', order: 'ABCD' }] });
    for (const pressure of back(json).pressures) expect(pressure).toBeLessThan(0.5);
    expect(back(json).pressures.length).toBeGreaterThan(3);
    // The contacts of the device are shown, too.
    expect(json['bits']).toMatchObject([{ table: 'discrete', start: 0, states: [1, 0, 1] }, { table: 'coil', start: 0 }]);
  });
  it('a link that ends in the middle is told, with what was read by then', async () => {
    const wiring = slave(true, 1);
    const answer = wiring.onSend;
    let asked = 0;
    wiring.onSend = (text) => (++asked === 120 ? queueMicrotask(() => wiring.lose()) : answer(text));
    const { report, json } = await sniffed({ target: { kind: 'tcp', host: '192.0.2.7', port: 502 }, how: 'modbus', unitIds: [1], rounds: 1000, every: 0.001, answerWithin: 5 }, wiring);
    expect(report.join('\n')).toMatch(/The link ended in the middle \(closed the connection\): not everything was read\./);
    expect(json['lost']).toBe('closed the connection');
    expect(json['fits']).not.toEqual([]);
  });
  it('without --modbus nothing is sent, whatever comes', async () => {
    const wiring = slave(false, 1);
    await sniffed({ target: { kind: 'serial', path: '/dev/ttyBENCH' }, each: 0.05 }, wiring);
    expect(wiring.opened.length).toBeGreaterThan(5);
    expect(wiring.sent).toEqual([]);
  });
  it('no slave at any setting is told, with what to look at', async () => {
    const { bench, report } = await sniffed({ target: { kind: 'serial', path: '/dev/ttyBENCH' }, how: 'modbus', unitIds: [1, 2], answerWithin: 0.01, known: { bauds: [9600] } }, new FakeWiring());
    expect(bench).toBeNull();
    expect(report.join(' ')).toMatch(/No slave answered: unit ids 1 to 2, at 9600 8E1, 9600 8N1, 9600 8O1.*A and B of RS-485/);
  });

  it.each(['ABCD', 'CDAB', 'BADC', 'DCBA'])('a pymodbus server on TCP: 350 bar as float32 %s in two of its registers', async (order) => {
    const port = await freePort();
    const { layout } = (await run('/usr/bin/python3', script, 'tcp', String(port)).firstLine()) as Layout;
    await until('the server listens', () => programs[0]?.running === true);
    const place = layout.find((entry) => entry.type === 'float32' && entry.value === 350 && entry.order === order);
    const from = place?.address ?? 0;
    const { bench, json } = await retried(() => sniffed({ target: { kind: 'tcp', host: '127.0.0.1', port }, how: 'modbus', wanted: { expect: 350, unit: 'bar' }, unitIds: [1], ranges: [{ from, to: from + 1 }], answerWithin: 2 }));
    expect(inputOf(bench)).toMatchObject({ driver: 'modbus-tcp', unitId: 1, values: [{ address: from, type: 'float32', order }] });
    expect(new Set(back(json).pressures)).toEqual(new Set([350]));
  });

  it('RTU by pymodbus on a serial line, and through ser2net', async () => {
    const cable = await plugged();
    const { layout } = (await run('/usr/bin/python3', script, 'rtu', cable.far).firstLine()) as Layout;
    const place = layout.find((entry) => entry.type === 'float32' && entry.value === 350 && entry.order === 'CDAB');
    const from = place?.address ?? 0;
    const more = { how: 'modbus', wanted: { expect: 350, unit: 'bar' }, unitIds: [1, 2], ranges: [{ from, to: from + 1 }], rounds: 3, answerWithin: 1 } as const;
    const found = await sniffed({ ...more, target: { kind: 'serial', path: cable.path }, known: { bauds: [19_200], parity: 'none' } });
    expect(inputOf(found.bench)).toMatchObject({ driver: 'modbus-rtu', path: cable.path, baudRate: 19_200, parity: 'none', values: [{ address: from, type: 'float32', order: 'CDAB' }] });
    expect(back(found.json).pressures).toContain(350);
    const port = await freePort();
    const config = join(cable.path, '..', 'ser2net.yaml');
    writeFileSync(config, `%YAML 1.1\n---\nconnection: &line\n  accepter: tcp,127.0.0.1,${port}\n  connector: serialdev,${cable.path},19200n81,local,nobreak\n  options:\n    kickolduser: true\n`);
    run('/usr/sbin/ser2net', '-n', '-d', '-c', config, '-P', join(cable.path, '..', 'ser2net.pid'));
    const through = await retried(() => sniffed({ ...more, target: { kind: 'tcp', host: '127.0.0.1', port }, rtuOverTcp: true }));
    expect(inputOf(through.bench)).toMatchObject({ driver: 'modbus-rtu', host: '127.0.0.1', port, values: [{ address: from, order: 'CDAB' }] });
    expect(back(through.json).pressures).toContain(350);
  });
});

/** A server that was just started may not listen yet. */
async function retried<T>(work: () => Promise<T>): Promise<T> {
  const end = performance.now() + 20_000;
  for (;;) {
    try {
      return await work();
    } catch (error) {
      if ((error as Partial<LinkError>).code !== 'refused' || performance.now() > end) throw error;
      await new Promise((resolve) => setTimeout(resolve, 50));
    }
  }
}
