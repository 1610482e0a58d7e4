import { createServer, type Socket } from 'node:net';
import { sendLimit, type Wire } from './wire.js';

export interface TcpWire extends Wire {
  readonly host: string;
  readonly port: number;
  /** Drops every connection and keeps listening: a network that blinked. */
  dropAll(): void;
}

/** Listens as a serial-to-network instrument does; every client gets the same bytes. Port 0 takes a free one. */
export async function listenTcpWire(port = 0, host = '127.0.0.1'): Promise<TcpWire> {
  const clients = new Set<Socket>();
  const listeners: ((bytes: Uint8Array) => void)[] = [];
  const server = createServer((socket) => {
    clients.add(socket);
    socket.setNoDelay(true);
    socket.on('data', (bytes) => {
      for (const listener of listeners) listener(bytes);
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
    send: (bytes) => {
      for (const client of clients) if (client.writableLength + bytes.length <= sendLimit) client.write(bytes);
    },
    onBytes: (listener) => void listeners.push(listener),
    dropAll,
    close: () =>
      new Promise((resolve) => {
        server.close(() => resolve());
        dropAll();
      }),
  };
}
