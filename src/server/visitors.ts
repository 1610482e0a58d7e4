import { isIP } from 'node:net';
import { inputError } from '../core/problems.js';

const names = ['127.0.0.1', 'localhost', '[::1]'];

/**
 * Refuses an address that other machines can reach.
 * @param place the field or option that the address was read from
 * @throws InputError with one sentence
 */
export function checkListenAddress(address: string, source: string, place: string): void {
  const bare = address.replace(/^\[(.*)\]$/, '$1');
  if (bare === 'localhost' || bare === '::1' || (isIP(bare) === 4 && bare.startsWith('127.'))) return;
  throw inputError(
    source,
    place,
    `'${address}' can be reached from other machines, and that needs people to be set up first; leave it out or write 127.0.0.1`,
  );
}

/**
 * Who may talk to the server. A web page of someone else, open in the same browser, can send requests to this machine
 * as well, by its own name (Origin) or by a name that it has pointed here (Host): both are refused.
 */
export class Visitors {
  readonly #hosts: ReadonlySet<string>;

  /** @param listensOn the address that it is bound to, and the port */
  constructor(listensOn: string, port: number) {
    const bare = listensOn.includes(':') && !listensOn.startsWith('[') ? `[${listensOn}]` : listensOn;
    const hosts = new Set([...names, bare].map((name) => `${name}:${port}`));
    // Browsers leave the port out of Host and Origin where it is the usual one.
    if (port === 80) for (const name of [...names, bare]) hosts.add(name);
    this.#hosts = hosts;
  }

  /** The WebSocket addresses of this server, for the content security policy, which has no way to write an IPv6 address. */
  get sockets(): readonly string[] {
    return [...this.#hosts].filter((host) => !host.startsWith('[')).map((host) => `ws://${host}`);
  }

  /**
   * `null` when the request is welcome, otherwise why it is not.
   * @param needsOrigin true for a WebSocket from a browser, which always names its page
   */
  refusal(host: string | undefined, origin: string | undefined, needsOrigin = false): string | null {
    if (host === undefined || !this.#hosts.has(host.toLowerCase())) {
      return `this server does not go by the name '${(host ?? '').slice(0, 80)}'; use one of ${[...this.#hosts].join(', ')}`;
    }
    if (origin === undefined) return needsOrigin ? 'live data is for pages of this server only; the request names no page (Origin)' : null;
    const page = /^http:\/\/([^/]+)$/.exec(origin.toLowerCase())?.[1];
    return page !== undefined && this.#hosts.has(page) ? null : `pages of '${origin.slice(0, 80)}' may not use this server`;
  }
}
