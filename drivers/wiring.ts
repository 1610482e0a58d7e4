import type { Observable } from 'rxjs';

/** How to find a serial port again after it was unplugged. */
export type PortRule =
  | { readonly by: 'path'; readonly path: string }
  /** Serial number stored in the USB adapter. */
  | { readonly by: 'serial'; readonly serial: string }
  /** Physical USB socket: the name under /dev/serial/by-path. */
  | { readonly by: 'socket'; readonly socket: string }
  /** Maker and product, `1a86:7523`. */
  | { readonly by: 'id'; readonly id: string };

export interface SerialTarget {
  readonly kind: 'serial';
  readonly port: PortRule;
  readonly baudRate: number;
  readonly dataBits: 7 | 8;
  readonly parity: 'none' | 'even' | 'odd';
  readonly stopBits: 1 | 2;
  /** `leave` asks the system not to drop DTR at close, so that the next opening does not pulse it. */
  readonly dtr: 'raise' | 'leave';
}

export interface TcpTarget {
  readonly kind: 'tcp';
  readonly host: string;
  readonly port: number;
}

export type Target = SerialTarget | TcpTarget;

/** An open link. */
export interface Connection {
  /** The bytes as they come, in chunks of any size. Hot: subscribe at once. Completes when the link ends, just before `open` errors. */
  readonly received: Observable<Uint8Array>;
  /** Hands bytes to the link. What cannot be sent any more is lost with the link. */
  send(bytes: Uint8Array): void;
}

/** All that a driver may touch: the daemon passes real ports, a test passes bytes. */
export interface Wiring {
  /**
   * Cold: subscribing opens and emits the connection once; unsubscribing closes it.
   * Errors with a `LinkError` when it cannot be opened or the other end is gone; never completes by itself.
   */
  open(target: Target): Observable<Connection>;
  /** A whole text file; rejects with a `LinkError`. */
  readText(path: string): Promise<string>;
}

/** What is wrong with a link, for programs; the message says it for people. */
export type LinkFault =
  /** No such port, host or file. */
  | 'missing'
  /** The rule matches several ports; none was opened. */
  | 'ambiguous'
  /** Another program has it. */
  | 'busy'
  /** This user may not open it. */
  | 'denied'
  /** Host there, nothing listens. */
  | 'refused'
  /** It is there and is not what the configuration says. */
  | 'unusable'
  /** It was open and is gone. */
  | 'lost';

/** A link that could not be opened or was lost. A weekly event on a bench: a value of the supervisor, not a crash. */
export class LinkError extends Error {
  override readonly name = 'LinkError';
  constructor(
    readonly code: LinkFault,
    /** One sentence without a full stop; names the port. */
    message: string,
    options?: ErrorOptions,
  ) {
    super(message, options);
  }
}
