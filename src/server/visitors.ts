import { isIP } from 'node:net';
import { ownAddresses, pageProblems } from '../access/check-access.js';
import { bareAddress, isOwnOnly } from '../access/page-settings.js';
import { InputError } from '../core/problems.js';

const loopback = ['127.0.0.1', 'localhost', '[::1]'];

/**
 * Refuses an address that other machines can reach, unless people are set up.
 * @param place the field or option that the address was read from
 * @throws InputError with one sentence
 */
export function checkListenAddress(address: string, source: string, place: string, hasPeople = false): void {
  const problems = pageProblems({ address, port: 0, names: [] }, hasPeople, '').map(({ text }) => ({ place, text }));
  if (problems.length > 0) throw new InputError(source, problems);
}

/** How the server is reached. */
export interface Reached {
  /** Host names besides its addresses, in small letters. */
  readonly names?: readonly string[];
  /** Over TLS. */
  readonly secure?: boolean;
}

/**
 * Who may talk to the server. A web page of someone else, open in the same browser, can send requests to this machine
 * as well, by its own name (Origin) or by a name that it has pointed here (Host): both are refused.
 */
export class Visitors {
  readonly #hosts: ReadonlySet<string>;
  readonly #wide: boolean;
  readonly #scheme: string;
  readonly #usualPort: number;

  /** @param listensOn the address that it is bound to, and the port */
  constructor(
    listensOn: string,
    private readonly port: number,
    { names = [], secure = false }: Reached = {},
  ) {
    const bare = bareAddress(listensOn);
    this.#scheme = secure ? 'https' : 'http';
    this.#usualPort = secure ? 443 : 80;
    this.#wide = !isOwnOnly(listensOn) && ['0.0.0.0', '::'].includes(bare);
    this.#hosts = new Set([...loopback, ...(this.#wide ? [] : [hostForm(bare)]), ...names].flatMap((name) => this.#withPort(name)));
  }

  /**
   * `null` when the request is welcome, otherwise why it is not.
   * @param needsOrigin true for a WebSocket from a browser, which always names its page
   */
  refusal(host: string | undefined, origin: string | undefined, needsOrigin = false): string | null {
    if (!this.knows(host)) {
      return `this server does not go by the name '${(host ?? '').slice(0, 80)}'; use one of ${[...this.#hosts, ...this.#numbers()].join(', ')}, or add a name under 'names' of the section 'page' of the bench file`;
    }
    if (origin === undefined) return needsOrigin ? 'live data is for pages of this server only; the request names no page (Origin)' : null;
    const scheme = `${this.#scheme}://`;
    const page = origin.toLowerCase();
    return page.startsWith(scheme) && this.knows(page.slice(scheme.length)) ? null : `pages of '${origin.slice(0, 80)}' may not use this server`;
  }

  /** Whether the server goes by that name. An address in numbers is never somebody else's name that was pointed here. */
  knows(host: string | undefined): host is string {
    if (host === undefined) return false;
    const named = host.toLowerCase();
    return this.#hosts.has(named) || (this.#wide && this.#numbers().includes(named));
  }

  /** Addresses come and go with the network, so they are looked up when they are needed. */
  #numbers(): string[] {
    return this.#wide ? ownAddresses().map(hostForm).flatMap((name) => this.#withPort(name)) : [];
  }

  /** Browsers leave the port out of Host and Origin where it is the usual one. */
  #withPort(name: string): string[] {
    return this.port === this.#usualPort ? [`${name}:${this.port}`, name] : [`${name}:${this.port}`];
  }
}

/** An address as it stands in Host: `[::1]`. */
const hostForm = (bare: string): string => (isIP(bare) === 6 ? `[${bare}]` : bare);
