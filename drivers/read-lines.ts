import { Observable, switchMap } from 'rxjs';
import type { Clock } from './clock.js';
import type { Received } from './driver.js';
import type { LineOptions } from './line-options.js';
import { LineSession } from './line-session.js';
import type { Connection, Target, Wiring } from './wiring.js';

/** Opens a link and reads lines from it; the same for every kind of link. */
export const readLines = (target: Target, where: string, options: LineOptions, wiring: Wiring, clock: Clock): Observable<Received> =>
  wiring.open(target).pipe(switchMap((connection) => talk(connection, where, options, clock)));

/** A fresh session for each connection: nothing of an earlier opening can join a line of this one. */
function talk(connection: Connection, where: string, options: LineOptions, clock: Clock): Observable<Received> {
  return new Observable((subscriber) => {
    const session = new LineSession(options, clock.now(), {
      receive: (item) => subscriber.next(item),
      send: (text) => connection.send(Buffer.from(text, 'latin1')),
    });
    let cancel = () => {};
    let armed = Infinity;
    // The timer is only ever moved forward in time by firing: a line each millisecond must not cost a timer each.
    const arm = () => {
      const due = session.due();
      if (due >= armed || subscriber.closed) return;
      cancel();
      armed = due;
      cancel = clock.after(Math.max(0, due - clock.now()), () => {
        armed = Infinity;
        attempt(() => session.at(clock.now()));
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
