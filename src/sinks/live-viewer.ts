import { closeCode, type PageMessage } from './live-protocol.js';

/** One viewer's end of a connection, whatever carries it. */
export interface Transport {
  /** Bytes accepted but not yet taken over by the other side's network. */
  readonly waiting: number;
  send(message: string | Uint8Array): void;
  close(code: number, reason: string): void;
  /** Drops the connection at once, without waiting for an answer. */
  cut(): void;
}

export interface ViewerLimits {
  /** Bytes that may wait for one viewer, the message about to be sent included. */
  readonly waiting: number;
  /** ms that a viewer may stay over the limit before it is let go. */
  readonly stall: number;
  /** Samples sent to a page that has none; older ones are fetched thinned. */
  readonly history: number;
}

/** What a viewer draws from: shared by all viewers of a bench, so that each frame is encoded once. */
export interface ViewerSource {
  readonly session: string;
  newest(): number;
  /** The frame that holds the samples after `sequence`, and the number of its last one. */
  frameAfter(sequence: number): { readonly bytes: Uint8Array; readonly last: number } | undefined;
  snapshot(): string;
}

/**
 * Sends one page what it is owed and never queues beyond its limit. A message that finds no room is dropped; once the
 * queue has drained the page gets one fresh snapshot, and the samples that it missed by their numbers.
 */
export class LiveViewer {
  /** Number of the last sample sent; `null` until the page has asked. */
  #sent: number | null = null;
  #owesSnapshot = false;
  #stalledSince: number | null = null;
  #clock: { readonly at: number; readonly received: number } | null = null;
  dropped = 0;

  constructor(
    private readonly transport: Transport,
    private readonly source: ViewerSource,
    private readonly limits: ViewerLimits,
  ) {}

  /** A message of the page that came in at `now`, ms. */
  receive(message: PageMessage, now: number): void {
    if (message.kind === 'heartbeat') {
      this.#clock = { at: message.at, received: now };
      return;
    }
    const newest = this.source.newest();
    const known = message.session === this.source.session && message.after !== null && message.after <= newest ? message.after : -1;
    this.#sent = Math.max(known, newest - this.limits.history);
    this.#owesSnapshot = true;
    this.advance(now);
  }

  /** The page's clock as it was in its last heartbeat, with how long ago that was, ms. */
  echo(now: number): { readonly at: number; readonly held: number } | null {
    return this.#clock && { at: this.#clock.at, held: now - this.#clock.received };
  }

  /** A message that tells a state. It is dropped where there is no room; the snapshot that follows holds it too. */
  tell(text: string): void {
    if (this.#sent === null || this.#owesSnapshot) return;
    if (!this.#send(text)) {
      this.dropped++;
      this.#owesSnapshot = true;
    }
  }

  /** Sends what is owed as far as there is room; lets go of a viewer that has taken nothing for too long. */
  advance(now: number): void {
    if (this.#sent === null) return;
    if (this.#stalledSince !== null && this.transport.waiting > this.limits.waiting / 4) {
      if (now - this.#stalledSince > this.limits.stall) {
        this.transport.close(closeCode.tooSlow, 'nothing was taken for too long');
        this.transport.cut();
      }
      return;
    }
    this.#stalledSince = null;
    if (this.#owesSnapshot) {
      if (!this.#send(this.source.snapshot())) return this.#stall(now);
      this.#owesSnapshot = false;
    }
    while (this.#sent < this.source.newest()) {
      const frame = this.source.frameAfter(this.#sent);
      if (frame === undefined) return;
      if (!this.#send(frame.bytes)) return this.#stall(now);
      this.#sent = frame.last;
    }
  }

  #stall(now: number): void {
    this.dropped++;
    this.#owesSnapshot = true;
    this.#stalledSince = now;
  }

  /** False, and nothing sent, when the message would bring the queue above the limit. */
  #send(message: string | Uint8Array): boolean {
    const { waiting } = this.transport;
    // A message that is larger than the limit by itself may go when nothing else waits: it could never go otherwise.
    if (waiting > 0 && waiting + message.length > this.limits.waiting) return false;
    this.transport.send(message);
    return true;
  }
}
