import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, describe, expect, it } from 'vitest';
import type { Subscription } from 'rxjs';
import { systemClock } from '../../drivers/clock.js';
import { realWiring } from '../../drivers/real-wiring.js';
import { acquireLink, type Acquired } from '../../src/acquisition/acquire.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { ForeignProgram, freePort } from './foreign-program.js';
import { PtyPair, until } from './pty-pair.js';

/** Against servers of Debian's python3-pymodbus, and a serial line behind Debian's ser2net. */
const script = fileURLToPath(new URL('pymodbus-server.py', import.meta.url));
interface Layout {
  readonly layout: readonly { type: string; order: string; address: number; value: number }[];
  readonly registers: number;
}

let programs: ForeignProgram[] = [];
let pair: PtyPair | undefined;
let subscription: Subscription | undefined;
afterEach(async () => {
  subscription?.unsubscribe();
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

/** Reads values over a link until `enough` says so. */
async function read(where: object, values: readonly object[], enough: (items: readonly Acquired[]) => boolean, more: object = {}): Promise<Acquired[]> {
  const bench = parseBench(
    {
      bench: 'b',
      instruments: [{ instrument: 'peer', input: { ...where, addressBase: 0, every: '100 ms', answerWithin: '2 s', values, ...more } }],
      channels: (values as readonly { value: string }[]).map(({ value }) => ({ channel: value, instrument: 'peer', value, unit: 'counts', range: { upper: '1000 bar' }, scaling: { lower: { reading: 0, pressure: '0 bar' }, upper: { reading: 1e300, pressure: '1 bar' } } })),
    },
    'bench.yaml',
  );
  const [link] = bench.links;
  if (link === undefined) throw new Error('no link');
  const items: Acquired[] = [];
  subscription = acquireLink(link, realWiring, systemClock).subscribe((item) => items.push(item));
  await until('enough came from the peer', () => enough(items), 30_000);
  subscription.unsubscribe();
  return items;
}
const samplesOf = (items: readonly Acquired[]) => items.filter((item) => item.kind === 'sample');
/** What the peer said; on a machine with other things to do it now and then says nothing in time. */
const answersOf = (items: readonly Acquired[]) => samplesOf(items).filter(({ fault }) => fault !== 'no-answer');

async function server(kind: 'tcp' | 'rtu'): Promise<{ where: object; layout: Layout }> {
  if (kind === 'tcp') {
    const port = await freePort();
    const layout = (await run('/usr/bin/python3', script, 'tcp', String(port)).firstLine()) as Layout;
    return { where: { driver: 'modbus-tcp', host: '127.0.0.1', port }, layout };
  }
  pair = new PtyPair();
  await pair.plug();
  const layout = (await run('/usr/bin/python3', script, 'rtu', pair.far).firstLine()) as Layout;
  return { where: { driver: 'modbus-rtu', path: pair.path, parity: 'none' }, layout };
}

describe.each(['tcp', 'rtu'] as const)('a pymodbus server over %s', (kind) => {
  it('every type in every order, in blocks, of both register tables', async () => {
    const { where, layout } = await server(kind);
    const values = layout.layout.flatMap(({ type, order, address }, i) => [
      { value: `h${i}`, table: 'holding', type, order, address },
      { value: `i${i}`, table: 'input', type, order, address },
    ]);
    const items = await read(where, values, (all) => new Set(samplesOf(all).filter(({ fault }) => fault === undefined).map(({ channel }) => channel)).size === values.length);
    const found = new Map(answersOf(items).map(({ channel, value }) => [channel, value]));
    for (const [i, { type, value }] of layout.layout.entries()) {
      const right = type === 'float32' ? Math.fround(value) : value;
      expect([found.get(`h${i}`), found.get(`i${i}`)]).toEqual([right, right]);
    }
  });

  it('coils, discrete inputs, both slaves; what is not there is refused and told', async () => {
    const { where, layout } = await server(kind);
    const values = [
      ...[0, 1, 3, 17, 63].flatMap((address) => [{ value: `c${address}`, table: 'coil', address }, { value: `d${address}`, table: 'discrete', address }]),
      { value: 'one', type: 'uint16', address: 0 },
      { value: 'two', type: 'uint16', address: 0, unitId: 2 },
      { value: 'beyond', type: 'uint16', address: layout.registers + 5 },
    ];
    const items = await read(where, values, (all) => values.every(({ value }) => answersOf(all).filter(({ channel }) => channel === value).length >= 2));
    const found = new Map(answersOf(items).map(({ channel, value }) => [channel, value]));
    for (const address of [0, 1, 3, 17, 63]) expect([found.get(`c${address}`), found.get(`d${address}`)]).toEqual(address % 3 === 0 ? [1, 0] : [0, 1]);
    expect([found.get('one'), found.get('two')]).toEqual([1, 2]);
    const beyond = answersOf(items).filter(({ channel }) => channel === 'beyond');
    expect(new Set(beyond.map(({ fault, raw }) => `${fault}: ${raw}`))).toEqual(new Set(['refused: exception 2: illegal data address']));
    expect(items.filter((item) => item.kind === 'notice' && item.code === 'check-setup')).toHaveLength(1);
  });
});

describe('ser2net', () => {
  /** ser2net hands a pseudo terminal through at a TCP port. */
  async function deviceServer(): Promise<number> {
    pair = new PtyPair();
    await pair.plug();
    const port = await freePort();
    const config = join(pair.path, '..', 'ser2net.yaml');
    writeFileSync(config, `%YAML 1.1\n---\nconnection: &line\n  accepter: tcp,127.0.0.1,${port}\n  connector: serialdev,${pair.path},19200n81,local,nobreak\n  options:\n    kickolduser: true\n`);
    run('/usr/sbin/ser2net', '-n', '-d', '-c', config, '-P', join(pair.path, '..', 'ser2net.pid'));
    return port;
  }

  it('a line instrument behind it: values, and back after the device server was away', async () => {
    const port = await deviceServer();
    const bench = parseBench({ bench: 'b', channels: [{ input: { driver: 'tcp-line', host: '127.0.0.1', port }, unit: 'bar', range: { upper: '1000 bar' } }] }, 'bench.yaml');
    const items: Acquired[] = [];
    const [link] = bench.links;
    if (link === undefined) throw new Error('no link');
    subscription = acquireLink(link, realWiring, systemClock).subscribe((item) => items.push(item));
    let next = 100;
    const sending = setInterval(() => pair?.send(`${(next++).toFixed(1)} bar\r\n`), 20);
    try {
      const good = () => samplesOf(items).filter(({ flags }) => flags === 0).map(({ pressure }) => pressure);
      await until('readings come through ser2net', () => good().length > 20);
      const values = good();
      values.slice(1).forEach((value, i) => expect(value).toBe((values[i] ?? NaN) + 1));
      await programs[0]?.stop();
      await until('the loss is marked', () => items.some((item) => item.kind === 'mark' && item.mark.kind === 'signal-lost'));
      const before = good().length;
      run('/usr/sbin/ser2net', '-n', '-d', '-c', join(pair?.path ?? '', '..', 'ser2net.yaml'), '-P', join(pair?.path ?? '', '..', 'ser2net.pid'));
      await until('readings come again', () => good().length > before + 10);
      expect(samplesOf(items).filter(({ flags }) => flags !== 0)).toEqual([]);
    } finally {
      clearInterval(sending);
    }
  });

  it('Modbus RTU handed through it, answered by pymodbus on the serial side', async () => {
    const port = await deviceServer();
    const layout = (await run('/usr/bin/python3', script, 'rtu', pair?.far ?? '').firstLine()) as Layout;
    const place = layout.layout.find(({ type, value, order }) => type === 'float32' && value === 350 && order === 'CDAB');
    const items = await read({ driver: 'modbus-rtu', host: '127.0.0.1', port, baudRate: 19200 }, [{ value: 'p', type: 'float32', order: 'CDAB', address: place?.address }], (all) => samplesOf(all).filter(({ flags }) => flags === 0).length > 20);
    expect(new Set(samplesOf(items).filter(({ flags }) => flags === 0).map(({ value }) => value))).toEqual(new Set([350]));
  });
});
