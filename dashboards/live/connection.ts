import { decodeFrame, type SampleFrame } from '../../src/sinks/live-frame.js';
import { protocolVersion, readServerMessage, reconnectAfter, type PageMessage, type ServerMessage } from '../../src/sinks/live-protocol.js';

/** The part of a WebSocket that is used here. */
export interface Socket {
  send(text: string): void;
  close(): void;
}
export interface SocketEvents {
  message(content: string | ArrayBuffer): void;
  /** Closed or failed; called once. */
  gone(): void;
}

export interface ConnectionOptions {
  open(events: SocketEvents): Socket;
  /** ms, monotonic. */
  now(): number;
  onMessage(message: ServerMessage): void;
  onFrame(frame: SampleFrame): void;
  /** An attempt to connect was refused, or a connection ended: somebody may have been signed out. */
  onLost?(): void;
  /** What to ask for after a greeting: the last sample number of that session, or `null`. */
  lastNumber(session: string): number | null;
}

const beatEvery = 1000;
const waits = [250, 500, 1000, 2000, 5000];

/**
 * Keeps one connection to the server. It alone decides when to connect again, in `tick`, which the page calls some four
 * times a second: a link that says it is open and stays silent for 10 s is given up.
 */
export class LiveConnection {
  #socket: Socket | null = null;
  /** ms: the last message, or the attempt to connect. */
  #heardAt = 0;
  #beatAt = 0;
  #retryAt = 0;
  #failures = 0;
  #greeted = false;
  /** Attempts so far, the first included. */
  attempts = 0;
  /** The server speaks another version of the protocol: only loading the page again helps. */
  outdated = false;

  constructor(private readonly options: ConnectionOptions) {}

  /** True once the server has greeted. */
  get open(): boolean {
    return this.#greeted;
  }

  tick(): void {
    const now = this.options.now();
    if (this.outdated) return;
    if (this.#socket === null) {
      if (now >= this.#retryAt) this.#connect(now);
      return;
    }
    if (now - this.#heardAt > reconnectAfter * 1000) {
      this.#drop();
      this.#connect(now);
    } else if (this.#greeted && now - this.#beatAt >= beatEvery) {
      this.#beatAt = now;
      this.#say({ kind: 'heartbeat', at: now });
    }
  }

  /** The page is looked at again: do not wait for a link that has been silent. */
  wake(silentFor: number): void {
    if (this.#socket !== null && this.options.now() - this.#heardAt > silentFor) this.#drop();
    this.#retryAt = 0;
    this.tick();
  }

  close(): void {
    this.#drop();
    this.#retryAt = Number.POSITIVE_INFINITY;
  }

  #connect(now: number): void {
    this.attempts++;
    this.#heardAt = now;
    this.#greeted = false;
    let mine: Socket | null = null;
    const current = (): boolean => mine !== null && mine === this.#socket;
    mine = this.options.open({
      message: (content) => {
        if (current()) this.#take(content);
      },
      gone: () => {
        if (current()) this.#lost();
      },
    });
    this.#socket = mine;
  }

  #take(content: string | ArrayBuffer): void {
    const now = this.options.now();
    this.#heardAt = now;
    if (typeof content !== 'string') {
      const frame = decodeFrame(content);
      if (frame) this.options.onFrame(frame);
      return;
    }
    const message = readServerMessage(content);
    if (message === null) return;
    if (message.kind === 'hello') {
      if (message.protocol !== protocolVersion) {
        this.outdated = true;
        this.#drop();
        return;
      }
      this.#greeted = true;
      this.#failures = 0;
      this.options.onMessage(message);
      this.#beatAt = now;
      this.#say({ kind: 'heartbeat', at: now });
      this.#say({ kind: 'follow', session: message.session, after: this.options.lastNumber(message.session) });
      return;
    }
    this.options.onMessage(message);
  }

  #lost(): void {
    this.#socket = null;
    this.#greeted = false;
    this.#retryAt = this.options.now() + (waits[Math.min(this.#failures, waits.length - 1)] ?? 5000);
    this.#failures++;
    this.options.onLost?.();
  }

  #drop(): void {
    const socket = this.#socket;
    this.#socket = null;
    this.#greeted = false;
    socket?.close();
  }

  #say(message: PageMessage): void {
    this.#socket?.send(JSON.stringify(message));
  }
}

/** Opens a browser's WebSocket. */
export function browserSocket(address: string, events: SocketEvents): Socket {
  const socket = new WebSocket(address);
  socket.binaryType = 'arraybuffer';
  let over = false;
  const gone = (): void => {
    if (!over) events.gone();
    over = true;
  };
  socket.addEventListener('message', ({ data }: MessageEvent<string | ArrayBuffer>) => events.message(data));
  socket.addEventListener('close', gone);
  socket.addEventListener('error', gone);
  return {
    send: (text) => {
      if (socket.readyState === WebSocket.OPEN) socket.send(text);
    },
    close: () => socket.close(),
  };
}
