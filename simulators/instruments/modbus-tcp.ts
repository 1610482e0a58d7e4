import { createServer, type Socket } from 'node:net';
import { exception, exceptionAnswer, type ModbusInstrument } from './modbus-instrument.js';
import { sendLimit } from './wire.js';

export interface ModbusTcp {
  readonly host: string;
  readonly port: number;
  /** Goes silent, or speaks again; connections stay open. */
  keepSilent(silent: boolean): void;
  /** Drops every connection and keeps listening. */
  dropAll(): void;
  close(): Promise<void>;
}

/** Transaction, protocol 0, length: MODBUS Messaging on TCP/IP V1.0b, section 3.1.3. */
const headerLength = 6;
/** Unit identifier and the longest request. */
const longestBody = 254;

/**
 * Listens for Modbus TCP and answers from the instruments, as a gateway does: by unit id, and with exception 11 for an id
 * that nobody has. A lone instrument also answers to 0 and 255, which stand for the server itself. Requests that come
 * together are answered in their order. Port 0 takes a free one.
 */
export async function listenModbusTcp(instruments: readonly ModbusInstrument[], port = 0, host = '127.0.0.1'): Promise<ModbusTcp> {
  const clients = new Set<Socket>();
  let silent = false;
  const answer = (frame: Buffer): Buffer => {
    const unitId = frame[headerLength] ?? 0;
    const request = frame.subarray(headerLength + 1);
    const lone = instruments.length === 1 && (unitId === 0 || unitId === 255);
    const instrument = lone ? instruments[0] : instruments.find((i) => i.unitId === unitId);
    const body = instrument === undefined ? exceptionAnswer(request[0] ?? 0, exception.gatewayTarget) : instrument.answer(request);
    const head = Buffer.from(frame.subarray(0, headerLength + 1));
    head.writeUInt16BE(body.length + 1, 4);
    return Buffer.concat([head, body]);
  };
  const server = createServer((socket) => {
    let heard = Buffer.alloc(0);
    clients.add(socket);
    socket.setNoDelay(true);
    socket.on('data', (bytes: Buffer) => {
      heard = Buffer.concat([heard, bytes]);
      while (heard.length >= headerLength) {
        const length = heard.readUInt16BE(4);
        // Not Modbus, or out of step for good: a connection cannot be mended, only made anew.
        if (heard.readUInt16BE(2) !== 0 || length < 2 || length > longestBody) return void socket.destroy();
        if (heard.length < headerLength + length) return;
        const frame = heard.subarray(0, headerLength + length);
        heard = heard.subarray(headerLength + length);
        if (!silent && socket.writableLength <= sendLimit) socket.write(answer(frame));
      }
    });
    socket.on('error', () => socket.destroy());
    socket.on('close', () => clients.delete(socket));
  });
  await new Promise<void>((resolve, reject) => {
    server.once('error', reject);
    server.listen(port, host, () => {
      server.off('error', reject);
      resolve();
    });
  });
  const address = server.address();
  const dropAll = (): void => {
    for (const client of clients) client.destroy();
  };
  return {
    host,
    port: typeof address === 'object' && address !== null ? address.port : port,
    keepSilent: (now) => void (silent = now),
    dropAll,
    close: () =>
      new Promise((resolve) => {
        server.close(() => resolve());
        dropAll();
      }),
  };
}
