import { connect } from 'node:net';
import { once } from 'node:events';
import { access } from 'node:fs/promises';
import { SerialPort } from 'serialport';
import { afterEach, describe, expect, it } from 'vitest';
import { AsciiInstrument } from '../../simulators/instruments/ascii-instrument.js';
import { createPtyPair } from '../../simulators/instruments/pty-pair.js';
import { openSerialWire } from '../../simulators/instruments/serial-line.js';
import { listenTcpWire } from '../../simulators/instruments/tcp-line.js';
import type { Wire } from '../../simulators/instruments/wire.js';
import { lineOf, standardFormat } from '../../simulators/line-format.js';
import { Flag } from '../../src/core/trace.js';

const cleanups: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const clean of cleanups.splice(0).reverse()) await clean();
});

/** Waits until `condition` holds; fails after ten seconds with what was there instead. */
async function until(condition: () => boolean, state: () => unknown): Promise<void> {
  const deadline = performance.now() + 20_000;
  while (!condition()) {
    if (performance.now() > deadline) throw new Error(`waited in vain; there was ${JSON.stringify(state())}`);
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
}

const reading = (pressure: number, flags = 0) => ({ time: 0, pressure, flags });

describe('line format', () => {
  it.each([
    [123.45, {}, '+0123.45 bar\r\n'],
    [-0.4, {}, '-0000.40 bar\r\n'],
    [-0.001, {}, '+0000.00 bar\r\n'],
    [550, { unit: 'MPa', decimals: 3, digits: 0, plusSign: false, showUnit: false }, '55.000\r\n'],
    [350.25, { decimalSign: ',', terminator: '\r', showUnit: false, digits: 0 }, '+350,25\r'],
    [344.737864658, { unit: 'psi', decimals: 0, digits: 0 }, '+5000 psi\r\n'],
  ] as const)('%f with %o is %j', (pressure, format, line) => expect(lineOf(pressure, { ...standardFormat, ...format })).toBe(line));
});

describe('instrument', () => {
  /** A wire that keeps what was sent. */
  const paper = () => {
    let text = '';
    let ears: (bytes: Uint8Array) => void = () => undefined;
    let closed = false;
    const wire: Wire = {
      send: (bytes) => void (text += Buffer.from(bytes).toString('latin1')),
      onBytes: (listener) => void (ears = listener),
      close: async () => void (closed = await Promise.resolve(true)),
    };
    return { wire, said: () => text, hear: (question: string) => ears(Buffer.from(question)), isClosed: () => closed };
  };

  it('speaks by itself', () => {
    const { wire, said } = paper();
    const instrument = new AsciiInstrument(wire);
    instrument.show(reading(1.5));
    instrument.show(reading(2));
    expect(said()).toBe('+0001.50 bar\r\n+0002.00 bar\r\n');
  });

  it('answers only when asked, each question once, however it is cut', () => {
    const { wire, said, hear } = paper();
    const instrument = new AsciiInstrument(wire, { query: 'P?' });
    hear('P?\r\n');
    instrument.show(reading(7));
    expect(said()).toBe('');
    hear('P');
    hear('?\r');
    expect(said()).toBe('+0007.00 bar\r\n');
    hear('\nP?P?');
    expect(said()).toBe('+0007.00 bar\r\n'.repeat(3));
  });

  it('has its faults to order: words, bytes, silence, unplugged, error word', async () => {
    const { wire, said, isClosed } = paper();
    const instrument = new AsciiInstrument(wire);
    instrument.sayInstead('+OL', 2);
    for (let i = 0; i < 3; i++) instrument.show(reading(5));
    instrument.inject(Buffer.from([0, 255]));
    instrument.keepSilent(true);
    instrument.show(reading(6));
    instrument.keepSilent(false);
    instrument.show(reading(0, Flag.fault));
    await instrument.unplug();
    expect(said()).toBe('+OL\r\n+OL\r\n+0005.00 bar\r\n\0\xffERR\r\n');
    expect(isClosed()).toBe(true);
  });
});

describe('pty pair', () => {
  it('carries bytes both ways between the instrument and a serial port, and goes away when closed', async () => {
    const pair = await createPtyPair();
    cleanups.push(pair.close);
    const wire = await openSerialWire(pair.near);
    cleanups.push(() => wire.close());
    const bench = new SerialPort({ path: pair.far, baudRate: 9600, autoOpen: false, lock: false });
    await new Promise<void>((resolve, reject) => bench.open((error) => (error ? reject(error) : resolve())));
    cleanups.push(() => new Promise((resolve) => (bench.isOpen ? bench.close(() => resolve()) : resolve())));
    let heard = '';
    bench.on('data', (bytes: Buffer) => (heard += bytes.toString('latin1')));
    const instrument = new AsciiInstrument(wire, { query: '?' });
    instrument.show(reading(550.25));
    bench.write('?\r\n');
    await until(() => heard.endsWith('\n'), () => heard);
    expect(heard).toBe('+0550.25 bar\r\n');

    const all = Array.from({ length: 256 }, (_, i) => i);
    heard = '';
    instrument.inject(Uint8Array.from(all));
    await until(() => heard.length >= 256, () => heard.length);
    expect([...Buffer.from(heard, 'latin1')]).toEqual(all);

    await pair.close();
    await expect(access(pair.far)).rejects.toThrow('ENOENT');
  });

  it('says plainly when socat is missing', async () => {
    const path = process.env['PATH'];
    process.env['PATH'] = '';
    try {
      await expect(createPtyPair()).rejects.toThrow('socat is not installed');
    } finally {
      process.env['PATH'] = path;
    }
  });

  it('refuses a device that is not there', async () => {
    await expect(openSerialWire('/dev/no-such-device')).rejects.toThrow('No such file');
  });
});

describe('tcp wire', () => {
  it('gives every client the same bytes, survives one that goes, and drops all when told', async () => {
    const wire = await listenTcpWire();
    cleanups.push(() => wire.close());
    const heard = ['', ''];
    const clients = await Promise.all([0, 1].map(async (i) => {
      const socket = connect(wire.port, wire.host);
      await once(socket, 'connect');
      socket.on('data', (bytes: Buffer) => (heard[i] += bytes.toString('latin1')));
      return socket;
    }));
    const instrument = new AsciiInstrument(wire, { query: '?' });
    instrument.show(reading(1));
    clients[0]?.write('?');
    await until(() => heard.every((h) => h.endsWith('\n')), () => heard);
    expect(heard).toEqual(['+0001.00 bar\r\n', '+0001.00 bar\r\n']);
    clients[0]?.destroy();
    clients[1]?.write('?');
    await until(() => heard[1]?.length === 28, () => heard);
    const gone = once(clients[1] as NonNullable<(typeof clients)[1]>, 'close');
    wire.dropAll();
    await gone;
  });
});
