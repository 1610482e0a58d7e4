import { Observable, Subject } from 'rxjs';
import { SerialPort } from 'serialport';
import { watchDevice } from './device-watch.js';
import { serialError } from './link-sentence.js';
import { choosePort, describeRule, listPorts } from './ports.js';
import { LinkError, type Connection, type SerialTarget } from './wiring.js';

/** Ports that are being closed: opening one again before that is over would find it busy with ourselves. */
const closing = new Map<string, Promise<void>>();
/** ms that a close may take before it is no longer waited for; a hung adapter may never finish. */
const closeWait = 2000;

/**
 * Opens a serial port for this program alone. The port object is used once: its parser, its half lines and its listeners
 * go with it. It is read all the time, because an unplug is only seen while reading.
 */
export const openSerial = (target: SerialTarget): Observable<Connection> =>
  new Observable((subscriber) => {
    const received = new Subject<Uint8Array>();
    let port: SerialPort | undefined;
    let unwatch = () => {};
    const fail = (error: LinkError) => {
      received.complete();
      subscriber.error(error);
    };
    const open = async () => {
      const path = choosePort(target.port, target.port.by === 'path' ? [] : await listPorts());
      await closing.get(path);
      if (subscriber.closed) return;
      const { baudRate, dataBits, parity, stopBits } = target;
      port = new SerialPort({ path, baudRate, dataBits, parity, stopBits, lock: true, hupcl: target.dtr === 'raise', autoOpen: false });
      // A wanted close or a late one finds the subscriber closed and the subject complete: both then do nothing.
      port.on('error', (error) => fail(new LinkError('lost', `${path} failed (${error.message})`, { cause: error })));
      const gone = () => fail(new LinkError('lost', `${path} is gone; was the cable pulled`));
      port.on('close', gone);
      port.on('data', (chunk: Buffer) => received.next(chunk));
      port.open((error) => {
        if (error) return fail(serialError(path, error));
        if (subscriber.closed) return close(port);
        unwatch = watchDevice(path, gone);
        subscriber.next({ received, send: (bytes) => void port?.write(bytes) });
      });
    };
    open().catch((error: unknown) =>
      fail(error instanceof LinkError ? error : new LinkError('unusable', `${describeRule(target.port)} cannot be opened (${String(error)})`, { cause: error })),
    );
    return () => {
      unwatch();
      received.complete();
      close(port);
    };
  });

function close(port: SerialPort | undefined): void {
  if (port?.isOpen !== true) return;
  const { path } = port;
  const closed = new Promise<void>((resolve) => {
    const giveUp = setTimeout(resolve, closeWait);
    port.close(() => {
      clearTimeout(giveUp);
      resolve();
    });
  }).finally(() => closing.delete(path));
  closing.set(path, closed);
}
