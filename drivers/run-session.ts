import { Observable, switchMap } from 'rxjs';
import type { Clock } from './clock.js';
import type { Received } from './driver.js';
import type { Connection, Target, Wiring } from './wiring.js';

/** One opening of an instrument, from bytes to what they say. Knows no port and no clock. */
export interface LinkSession {
  /** A chunk of bytes arrived at `time` (s). */
  bytes(time: number, chunk: Uint8Array): void;
  /** s, when `at` must be called next; infinite when nothing is waited for. */
  due(): number;
  at(time: number): void;
  /** The link is gone. */
  end(): void;
}

/** What a session may do. */
export interface SessionSink {
  receive(item: Received): void;
  send(bytes: Uint8Array): void;
}

/** s by which a timer may be late before the computer is taken to have been busy. */
const busy = 0.002;

/** Opens a link and runs a fresh session for each connection: nothing of an earlier opening can join what comes in this one. */
export const runSession = (
  target: Target, where: string, wiring: Wiring, clock: Clock, begin: (openedAt: number, sink: SessionSink) => LinkSession,
): Observable<Received> => wiring.open(target).pipe(switchMap((connection) => talk(connection, where, clock, begin)));

function talk(connection: Connection, where: string, clock: Clock, begin: (openedAt: number, sink: SessionSink) => LinkSession): Observable<Received> {
  return new Observable((subscriber) => {
    const session = begin(clock.now(), {
      receive: (item) => subscriber.next(item),
      send: (bytes) => connection.send(bytes),
    });
    let cancel = () => {};
    let armed = Infinity;
    // The timer is only ever moved forward in time by firing: a line each millisecond must not cost a timer each.
    const arm = () => {
      const due = session.due();
      if (due >= armed || subscriber.closed) return;
      cancel();
      armed = due;
      const fire = () => {
        armed = Infinity;
        attempt(() => session.at(clock.now()));
      };
      cancel = clock.after(Math.max(0, due - clock.now()), () => {
        // Timers come before what arrived meanwhile: an answer that was there in time must not be taken for a late one.
        if (clock.now() - due > busy) cancel = clock.after(0, fire);
        else fire();
      });
    };
    // A throw inside a timer or a chunk is an error of this stream, never an uncaught one.
    const attempt = (work: () => void) => {
      try {
        work();
        arm();
      } catch (error) {
        subscriber.error(error);
      }
    };
    subscriber.add(() => cancel());
    subscriber.next({ kind: 'notice', time: clock.now(), code: 'opened', text: `${where} is open` });
    subscriber.add(
      connection.received.subscribe({
        next: (chunk) => attempt(() => session.bytes(clock.now(), chunk)),
        error: (error) => {
          session.end();
          subscriber.error(error);
        },
        complete: () => session.end(),
      }),
    );
    attempt(() => {});
  });
}
