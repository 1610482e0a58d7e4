import { createServer, type Server, type Socket } from 'node:net';
import type { AddressInfo } from 'node:net';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { systemClock } from '../../drivers/clock.js';
import type { Received } from '../../drivers/driver.js';
import { inputSchema, sourceOf } from '../../drivers/index.js';
import { realWiring } from '../../drivers/real-wiring.js';
import { LinkError } from '../../drivers/wiring.js';
import { acquire, type Acquired } from '../../src/acquisition/acquire.js';
import { channelSchema } from '../../src/acquisition/channel-config.js';
import { until } from './pty-pair.js';

let server: Server;
let sockets: Socket[];
const listenOn = (port: number) => new Promise<void>((resolve) => server.listen(port, '127.0.0.1', resolve));
const serve = () => {
  server = createServer((socket) => {
    sockets.push(socket);
    socket.on('error', () => {});
  });
};
const shut = async () => {
  sockets.splice(0).forEach((socket) => socket.destroy());
  if (server.listening) await new Promise((resolve) => server.close(resolve));
};
const portOf = () => (server.address() as AddressInfo).port;
beforeEach(async () => {
  sockets = [];
  serve();
  await listenOn(0);
});
afterEach(shut);

function read(port: number, more: Readonly<Record<string, unknown>> = {}) {
  const items: Received[] = [];
  let error: unknown;
  const input = inputSchema.parse({ driver: 'tcp-line', host: '127.0.0.1', port, ...more });
  const subscription = sourceOf(input).read(realWiring, systemClock).subscribe({ next: (item) => items.push(item), error: (e: unknown) => (error = e) });
  const values = () => items.flatMap((item) => (item.kind === 'reading' ? [item.value] : []));
  return { subscription, items, values, error: () => error, failed: () => until('the driver errs', () => error !== undefined) };
}

describe('lines over TCP', () => {
  it('are read like lines of a serial port, with first and last piece dropped', async () => {
    const link = read(portOf());
    await until('it connects', () => sockets.length === 1);
    sockets[0]?.write('0.2\r\n350.3 bar\r');
    sockets[0]?.write('\n350.4 bar\r\n350.');
    await until('two readings have come', () => link.values().length === 2);
    sockets[0]?.end();
    await link.failed();
    expect(link.values()).toEqual([350.3, 350.4]);
    expect(link.items.flatMap((item) => (item.kind === 'dropped' ? [item.why] : []))).toEqual(['first-line', 'cut-off']);
    expect(link.error()).toMatchObject({ code: 'lost', message: `127.0.0.1:${portOf()} closed the connection` });
  });

  it('a host that refuses is one clear sentence', async () => {
    const port = portOf();
    await shut();
    const link = read(port);
    await link.failed();
    expect(link.error()).toMatchObject({ code: 'refused', message: `127.0.0.1:${port} refuses the connection; does the device server listen on this port` });
  });

  it('a name that nobody knows is one clear sentence', async () => {
    const input = inputSchema.parse({ driver: 'tcp-line', host: 'bench.invalid', port: 4001 });
    let error: unknown;
    sourceOf(input).read(realWiring, systemClock).subscribe({ error: (e: unknown) => (error = e) });
    await until('the driver errs', () => error !== undefined);
    // RFC 2606: .invalid never resolves. Without a network the look-up itself may fail.
    expect(error).toMatchObject({ name: 'LinkError', code: 'missing', message: expect.stringMatching(/^bench\.invalid:4001 (is not a known host name|cannot be looked up)/) as string });
  });

  it('asks and is answered', async () => {
    const link = read(portOf(), { poll: { query: '?\n', every: '20 ms' } });
    await until('it connects', () => sockets.length === 1);
    sockets[0]?.on('data', () => sockets[0]?.write('350.2\n'));
    await until('answers come', () => link.values().length >= 3);
    expect(new Set(link.values())).toEqual(new Set([350.2]));
    link.subscription.unsubscribe();
    await until('it closes', () => sockets[0]?.destroyed === true || sockets[0]?.readableEnded === true);
  });

  it('a half-open link is found by its silence, closed and opened again; the peer never said a word', async () => {
    const acquired: Acquired[] = [];
    const channel = channelSchema.parse({ input: { driver: 'tcp-line', host: '127.0.0.1', port: portOf() }, unit: 'bar', range: { upper: '600 bar' } });
    const subscription = acquire(channel, realWiring, systemClock).subscribe((item) => acquired.push(item));
    const speak = setInterval(() => sockets[0]?.write('350.0\r\n'), 20);
    await until('readings come', () => acquired.filter((item) => item.kind === 'sample').length > 10);
    clearInterval(speak);
    await until('it connects anew', () => sockets.length >= 2);
    expect(acquired.filter((item) => item.kind === 'mark').map((item) => item.mark.kind)).toEqual(['signal-lost']);
    const again = setInterval(() => sockets.at(-1)?.write('351.0\r\n'), 20);
    await until('readings come again', () => acquired.some((item) => item.kind === 'mark' && item.mark.kind === 'signal-back'));
    clearInterval(again);
    subscription.unsubscribe();
  });

  // FC-28: https://github.com/serialport/node-serialport/issues/284
  it('FC-28: hundreds of openings that fail, over TCP and on a missing port, leave nothing open behind', async () => {
    const port = portOf();
    await shut();
    const inputs = [{ driver: 'tcp-line', host: '127.0.0.1', port }, { driver: 'serial-line', path: '/dev/there-is-no-such-port' }].map((input) => inputSchema.parse(input));
    const held = () => process.getActiveResourcesInfo().filter((kind) => kind !== 'Timeout' && kind !== 'Immediate').length;
    const codes = new Set<string>();
    const fail = (input: (typeof inputs)[number]) =>
      new Promise<void>((resolve) => {
        sourceOf(input).read(realWiring, systemClock).subscribe({
          error: (e: unknown) => {
            if (e instanceof LinkError) codes.add(e.code);
            resolve();
          },
        });
      });
    for (const input of inputs) await fail(input);
    const before = held();
    for (let i = 0; i < 200; i++) for (const input of inputs) await fail(input);
    await until('everything is closed', () => held() <= before);
    expect(codes).toEqual(new Set(['refused', 'missing']));
  });
});
