import { Observable, Subject } from 'rxjs';
import { LinkError, type Connection, type Target, type Wiring } from '../../drivers/wiring.js';

/** Wires without copper: a test hands in bytes, sees what is sent, and pulls the cable. */
export class FakeWiring implements Wiring {
  /** Every target that was opened, in order. */
  readonly opened: Target[] = [];
  readonly sent: string[] = [];
  /** Links that are open at this moment. */
  openLinks = 0;
  /** Errors that the next openings meet, in order; then they succeed. */
  readonly failures: LinkError[] = [];
  /** True while the cable is out: every opening fails. */
  unplugged = false;
  onSend: (text: string) => void = () => {};
  readonly files = new Map<string, string>();
  #received: Subject<Uint8Array> | undefined;
  #lose: ((error: Error) => void) | undefined;

  open(target: Target): Observable<Connection> {
    return new Observable((subscriber) => {
      this.opened.push(target);
      const failure = this.unplugged ? new LinkError('missing', 'the port is not there') : this.failures.shift();
      if (failure) return subscriber.error(failure);
      const received = new Subject<Uint8Array>();
      this.openLinks += 1;
      this.#received = received;
      this.#lose = (error) => {
        received.complete();
        subscriber.error(error);
      };
      const send = (bytes: Uint8Array) => {
        const text = Buffer.from(bytes).toString('latin1');
        this.sent.push(text);
        this.onSend(text);
      };
      subscriber.next({ received, send });
      return () => {
        this.openLinks -= 1;
        received.complete();
      };
    });
  }

  readText(path: string): Promise<string> {
    const text = this.files.get(path);
    return text === undefined ? Promise.reject(new LinkError('missing', `${path} is not there`)) : Promise.resolve(text);
  }

  /** Bytes from the instrument: text of one-byte characters, or the bytes themselves. */
  receive(bytes: string | Uint8Array): void {
    this.#received?.next(typeof bytes === 'string' ? Buffer.from(bytes, 'latin1') : bytes);
  }

  /** The cable is pulled, and the system notices. */
  lose(): void {
    this.#lose?.(new LinkError('lost', 'the port is gone'));
  }

  /** The opening ends with any error at all. */
  fail(error: Error): void {
    this.#lose?.(error);
  }
}
