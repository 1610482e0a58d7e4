import { connect } from 'node:net';
import { Observable, Subject } from 'rxjs';
import { socketError } from './link-sentence.js';
import { LinkError, type Connection, type TcpTarget } from './wiring.js';

/** ms that a connection may take to be made. */
const connectWait = 5000;
/** ms of silence before the system begins to ask whether the other end is still there. */
const keepAliveAfter = 5000;

/**
 * Opens a TCP connection. Keep-alive finds a dead peer late (minutes, by system settings); a half-open link is found
 * sooner by the age of the data, which the acquisition watches.
 */
export const openTcp = ({ host, port }: TcpTarget): Observable<Connection> =>
  new Observable((subscriber) => {
    const where = `${host}:${port}`;
    const received = new Subject<Uint8Array>();
    const fail = (error: LinkError) => {
      received.complete();
      subscriber.error(error);
    };
    const socket = connect({ host, port, keepAlive: true, keepAliveInitialDelay: keepAliveAfter, noDelay: true });
    socket.setTimeout(connectWait);
    // Listeners stay to the end: an error after destroy must not become an unhandled one.
    socket.on('timeout', () => fail(new LinkError('missing', `${where} does not answer; is it switched on and on this network`)));
    socket.on('error', (error) => fail(socketError(where, error)));
    socket.on('close', () => fail(new LinkError('lost', `${where} closed the connection`)));
    socket.on('data', (chunk) => received.next(chunk));
    socket.on('connect', () => {
      socket.setTimeout(0);
      if (!subscriber.closed) subscriber.next({ received, send: (bytes) => void socket.write(bytes) });
    });
    return () => {
      received.complete();
      socket.destroy();
    };
  });
