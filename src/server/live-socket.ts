import type { IncomingMessage, Server } from 'node:http';
import type { Duplex } from 'node:stream';
import { WebSocketServer, type RawData, type WebSocket } from 'ws';
import { roundEvery, LiveHub, usualLimits } from '../sinks/live-hub.js';
import { closeCode } from '../sinks/live-protocol.js';
import { readPageMessage } from '../sinks/live-requests.js';
import type { Transport, ViewerLimits } from '../sinks/live-viewer.js';
import type { Access } from './access.js';
import type { BenchFeed } from './bench-feed.js';
import type { SessionEnd } from '../access/sessions.js';
import type { Visitors } from './visitors.js';

export interface LiveSocketOptions {
  readonly benches: readonly BenchFeed[];
  readonly visitors: Visitors;
  /** `null`: nobody needs to sign in. */
  readonly access: Access | null;
  /** Most pages that may watch at once, all benches together. */
  readonly mostViewers: number;
  readonly limits?: ViewerLimits;
}

/** Longest message that a page may send, bytes. */
const longestMessage = 4096;
/** ms between two pings; a browser that answers none of them is gone. */
const pingEvery = 30_000;
/** ms that a page has to answer a goodbye. */
const goodbye = 500;

/** Live data over WebSocket at `/live/socket?bench=NAME`. Compression is off: it costs seven times the work (ws's default). */
export class LiveSocket {
  readonly #hubs: ReadonlyMap<string, LiveHub>;
  readonly #sockets = new WebSocketServer({ noServer: true, maxPayload: longestMessage, perMessageDeflate: false });
  readonly #answered = new WeakSet<WebSocket>();
  readonly #timers: NodeJS.Timeout[];

  constructor(
    server: Server,
    private readonly options: LiveSocketOptions,
  ) {
    const limits = options.limits ?? usualLimits;
    const now = (): number => performance.now();
    this.#hubs = new Map(options.benches.map((feed) => [feed.name, new LiveHub(feed, { limits, now })]));
    server.on('upgrade', (request, stream, head) => this.#upgrade(request, stream, head));
    this.#timers = [
      setInterval(() => this.#hubs.forEach((hub) => hub.round()), roundEvery),
      setInterval(() => this.#ping(), pingEvery),
    ];
  }

  get viewers(): number {
    return this.#sockets.clients.size;
  }

  /** Bytes queued for all viewers together. */
  get waiting(): number {
    return [...this.#sockets.clients].reduce((sum, { bufferedAmount }) => sum + bufferedAmount, 0);
  }

  /** Says goodbye to every page and stops. */
  close(): void {
    this.#timers.forEach((timer) => clearInterval(timer));
    this.#hubs.forEach((hub) => hub.close());
    for (const socket of this.#sockets.clients) {
      socket.close(closeCode.stopping, 'the daemon is stopping');
      setTimeout(() => socket.terminate(), goodbye).unref();
    }
    this.#sockets.close();
  }

  #upgrade(request: IncomingMessage, stream: Duplex, head: Buffer): void {
    stream.on('error', () => stream.destroy());
    const refusal = this.options.visitors.refusal(request.headers.host, request.headers.origin, true);
    if (refusal !== null) return refuse(stream, '403 Forbidden', refusal);
    const { access } = this.options;
    let close: ((why: SessionEnd) => void) | null = null;
    const release = access === null ? () => undefined : access.admit(request.headers.cookie, (why) => close?.(why));
    if (release === null) return refuse(stream, '401 Unauthorized', 'sign in first');
    stream.once('close', release);
    const address = new URL(request.url ?? '/', 'http://bench.invalid');
    if (address.pathname !== '/live/socket') return refuse(stream, '404 Not Found', 'live data is at /live/socket');
    const name = address.searchParams.get('bench') ?? '';
    const hub = this.#hubs.get(name);
    if (!hub) return refuse(stream, '404 Not Found', `no bench is named '${name.slice(0, 80)}'`);
    if (this.viewers >= this.options.mostViewers) {
      return refuse(stream, '503 Service Unavailable', `${this.options.mostViewers} pages are watching already; close one of them`);
    }
    this.#sockets.handleUpgrade(request, stream, head, (socket) => {
      close = (why) => {
        socket.close(closeCode.signedOut, why);
        setTimeout(() => socket.terminate(), goodbye).unref();
      };
      this.#watch(socket, hub);
    });
  }

  #watch(socket: WebSocket, hub: LiveHub): void {
    const viewer = hub.join(transportOf(socket));
    this.#answered.add(socket);
    socket.on('message', (raw, binary) => {
      const message = binary ? null : readPageMessage(textOf(raw));
      if (message === null) socket.close(closeCode.badMessage, 'not a message of this protocol');
      else hub.receive(viewer, message);
    });
    socket.on('pong', () => this.#answered.add(socket));
    socket.on('error', () => socket.terminate());
    socket.on('close', () => hub.leave(viewer));
  }

  #ping(): void {
    for (const socket of this.#sockets.clients) {
      if (!this.#answered.delete(socket)) socket.terminate();
      else socket.ping();
    }
  }
}

const textOf = (raw: RawData): string => (Buffer.isBuffer(raw) ? raw : Buffer.concat(Array.isArray(raw) ? raw : [Buffer.from(raw)])).toString('utf8');

const transportOf = (socket: WebSocket): Transport => ({
  get waiting() {
    return socket.bufferedAmount;
  },
  send(message) {
    if (socket.readyState === socket.OPEN) socket.send(message);
  },
  close: (code, reason) => socket.close(code, reason),
  cut: () => socket.terminate(),
});

/** An answer to an upgrade that is not wanted: a status line and one sentence. */
function refuse(stream: Duplex, status: string, sentence: string): void {
  const body = `${sentence}\n`;
  stream.end(
    `HTTP/1.1 ${status}\r\nContent-Type: text/plain; charset=utf-8\r\nContent-Length: ${Buffer.byteLength(body)}\r\nConnection: close\r\n\r\n${body}`,
  );
}
