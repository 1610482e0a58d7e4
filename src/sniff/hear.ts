import type { Clock } from '../../drivers/clock.js';
import { LinkError, type Target, type Wiring } from '../../drivers/wiring.js';

/** Bytes and when they came, s on the clock. */
export interface Chunk {
  readonly time: number;
  readonly bytes: Uint8Array;
}

/** What one opening gave. */
export interface Heard {
  readonly chunks: readonly Chunk[];
  /** s that the link was open. */
  readonly seconds: number;
  /** Why it ended before its time, where it did. */
  readonly lost?: string;
}

export interface HearOptions {
  /** s to listen. */
  readonly seconds: number;
  /** Sent again and again; without it nothing at all is sent. */
  readonly ask?: { readonly text: string; readonly every: number };
  /** Ends the listening early. */
  readonly enough: (bytes: Uint8Array, seconds: number) => boolean;
  readonly signal: AbortSignal;
}

/** Bytes that are kept of one opening. */
const most = 65_536;

/**
 * Opens a link and listens. Sends nothing unless `ask` says so.
 * @throws LinkError when the link cannot be opened
 */
export function hear(target: Target, wiring: Wiring, clock: Clock, { seconds, ask, enough, signal }: HearOptions): Promise<Heard> {
  return new Promise((resolve, reject) => {
    const chunks: Chunk[] = [];
    let openedAt: number | null = null;
    let cancels: (() => void)[] = [];
    const end = (lost?: string) => {
      cancels.forEach((cancel) => cancel());
      cancels = [];
      signal.removeEventListener('abort', onAbort);
      subscription.unsubscribe();
      resolve({ chunks, seconds: openedAt === null ? 0 : clock.now() - openedAt, ...(lost !== undefined && { lost }) });
    };
    const onAbort = () => end();
    const fail = (error: unknown) => {
      if (openedAt !== null) return end(error instanceof Error ? error.message : String(error));
      signal.removeEventListener('abort', onAbort);
      reject(error instanceof Error ? error : new LinkError('unusable', String(error)));
    };
    const subscription = wiring.open(target).subscribe({
      next: (connection) => {
        const opened = clock.now();
        openedAt = opened;
        let kept = 0;
        connection.received.subscribe((bytes) => {
          if (kept < most) chunks.push({ time: clock.now(), bytes: Uint8Array.from(bytes) });
          kept += bytes.length;
          if (enough(joined(chunks), clock.now() - opened)) end();
        });
        cancels.push(clock.after(seconds, () => end()));
        const send = () => {
          if (ask === undefined) return;
          connection.send(Buffer.from(ask.text, 'latin1'));
          cancels.push(clock.after(ask.every, send));
        };
        send();
      },
      error: fail,
    });
    if (signal.aborted) return end();
    signal.addEventListener('abort', onAbort, { once: true });
  });
}

/** All bytes in one piece. */
export const joined = (chunks: readonly Chunk[]): Uint8Array => Buffer.concat(chunks.map(({ bytes }) => bytes));
