import { fastifyCookie } from '@fastify/cookie';
import type { FastifyReply, FastifyRequest } from 'fastify';
import type { FrontDoor } from '../access/front-door.js';
import type { Person } from '../access/roles.js';
import type { SessionEnd } from '../access/sessions.js';
import { sha256 } from '../records/canonical-json.js';
import type { Doorkeeper } from './guard.js';

/** Ties what a browser sends along to who is signed in. */
export class Access implements Doorkeeper {
  /** A name for each bench: cookies are shared by all ports of a host. The prefix binds it to this host and to TLS (RFC 6265bis 4.1.3). */
  readonly #cookie: string;

  constructor(
    readonly door: FrontDoor,
    bench: string,
    private readonly secure: boolean,
  ) {
    this.#cookie = `${secure ? '__Host-' : ''}dwellkeeper-${sha256(bench).slice(0, 8)}`;
  }

  /** Looking on by itself, as a page does, is nothing that a person does; opening a page and changing something is. */
  personOf(request: FastifyRequest): Person | null {
    const used = !['GET', 'HEAD'].includes(request.method) || request.routeOptions.config.page === true;
    const id = this.idIn(request.headers.cookie);
    return id === null ? null : this.door.whoHas(id, used);
  }

  /**
   * Lets a WebSocket in.
   * @param ended called once when the session that let it in ends
   * @returns to be called when the socket closes; `null` where nobody is signed in
   */
  admit(cookies: string | undefined, ended: (why: SessionEnd) => void): (() => void) | null {
    const id = this.idIn(cookies);
    if (id === null || this.door.whoHas(id, false) === null) return null;
    return this.door.onEnd(id, ended);
  }

  /** The session that a request carries; `null` where none. */
  idIn(cookies: string | undefined): string | null {
    return fastifyCookie.parse(cookies ?? '')[this.#cookie] ?? null;
  }

  /** @param lasts ms */
  give(reply: FastifyReply, id: string, lasts: number): void {
    void reply.setCookie(this.#cookie, id, { ...this.#how(), maxAge: Math.floor(lasts / 1000) });
  }

  takeAway(reply: FastifyReply): void {
    void reply.clearCookie(this.#cookie, this.#how());
  }

  #how() {
    return { path: '/', httpOnly: true, sameSite: 'strict', secure: this.secure } as const;
  }
}
