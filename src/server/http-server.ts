import { existsSync } from 'node:fs';
import { createServer as createSecureServer, type Server as SecureServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import rateLimit from '@fastify/rate-limit';
import fastify, { type FastifyInstance, type FastifyServerFactory } from 'fastify';
import { ownAddresses } from '../access/check-access.js';
import type { FrontDoor } from '../access/front-door.js';
import type { Needs } from '../access/roles.js';
import type { TlsPair } from '../access/tls-files.js';
import { inputError } from '../core/problems.js';
import type { ViewerLimits } from '../sinks/live-viewer.js';
import { Access } from './access.js';
import { accessRoutes } from './access-routes.js';
import type { BenchFeed } from './bench-feed.js';
import { benchRoutes } from './bench-routes.js';
import { guard } from './guard.js';
import { LiveSocket } from './live-socket.js';
import { machineOf } from './machine-of.js';
import { pageHeaders } from './page-headers.js';
import { servePages } from './serve-pages.js';
import { checkListenAddress, Visitors } from './visitors.js';

export interface HttpServerOptions {
  readonly benches: readonly BenchFeed[];
  /** Folder of the built pages (`dist/pages`). */
  readonly pages: string;
  /** 127.0.0.1 unless given; without a `door` only addresses of this machine itself are served. */
  readonly address?: string;
  /** Lets people in; without it whoever can reach the server is the engineer at the bench. */
  readonly door?: FrontDoor;
  readonly tls?: TlsPair;
  /** Host names besides the addresses. */
  readonly names?: readonly string[];
  /** 0 takes a free one. */
  readonly port?: number;
  /** Most pages that may watch at once. */
  readonly mostViewers?: number;
  readonly limits?: ViewerLimits;
  /** Where `address` and `port` were written, for error sentences. */
  readonly source?: string;
  /** Hears of every route as it is made, with the role that it needs. */
  readonly routeMade?: (route: { readonly method: string; readonly url: string; readonly needs: Needs | undefined }) => void;
  /** Further routes under the same checks and headers. */
  readonly routes?: (app: FastifyInstance) => void;
}

/** ms that a request may take to come in. */
const slowest = 30_000;
const mostConnections = 1000;
/** Requests of one machine in a minute: ten pages that somebody clicks through, and no more than a bench's computer can bear. */
const mostRequests = 1500;
/** ms between two looks for sessions that have run out. */
const sweepEvery = 5000;

/** Serves the pages, their JSON and the live data of the given benches. */
export class HttpServer {
  private constructor(
    private readonly app: FastifyInstance,
    private readonly live: LiveSocket,
    /** `http://127.0.0.1:8080` */
    readonly address: string,
    private readonly sweeping: NodeJS.Timeout | null,
  ) {}

  /** @throws InputError for an address that may not be served or is taken, or when the pages were never built */
  static async start(options: HttpServerOptions): Promise<HttpServer> {
    const { address = '127.0.0.1', port = 0, source = '', pages, door, tls } = options;
    const secure = tls !== undefined;
    checkListenAddress(address, source, 'address', door !== undefined);
    if (!existsSync(join(pages, 'live', 'index.html'))) throw inputError(source, '', 'the pages are not built; run npm run build first');

    // Which names are right is known once the port is: nothing is answered before.
    let visitors: Visitors | null = null;
    const access = door === undefined ? null : new Access(door, options.benches.map(({ name }) => name).join('\n'), secure);
    const app = fastify({ bodyLimit: 64 * 1024, requestTimeout: slowest, forceCloseConnections: true, ...(tls && { serverFactory: secured(tls) }) });
    app.server.maxConnections = mostConnections;
    // A form of another page can send plain text without asking; only JSON is taken.
    app.removeContentTypeParser('text/plain');
    app.addHook('onRequest', async (request, reply) => {
      const { host, origin } = request.headers;
      const refusal = visitors === null ? 'starting' : visitors.refusal(host, origin);
      void reply.headers(pageHeaders(visitors?.knows(host) === true ? host : null, secure));
      if (refusal !== null) await reply.code(403).send({ error: refusal });
    });
    app.setErrorHandler<Error & { statusCode?: number }>((error, _request, reply) => {
      const status = error.statusCode !== undefined && error.statusCode < 500 ? error.statusCode : 500;
      return reply.code(status).send({ error: status === 500 ? 'something went wrong in the server' : error.message });
    });
    app.addHook('onRoute', (route) => {
      for (const method of [route.method].flat()) {
        options.routeMade?.({
          method,
          url: route.url,
          // Asked for later: a scope within may still set it.
          get needs() {
            return route.config?.needs;
          },
        });
      }
    });
    guard(app, access);
    // At a bench without people whoever asks sits at this computer; it need not be protected from itself.
    if (access !== null) await app.register(rateLimit, { max: mostRequests, timeWindow: '1 minute', keyGenerator: ({ ip }) => machineOf(ip), errorResponseBuilder: (_request, { after }) => tooMany(after) });
    await accessRoutes(app, access);
    benchRoutes(app, options.benches);
    options.routes?.(app);
    app.get('/', { config: { needs: 'anyone' } }, (_request, reply) => reply.redirect('/live/'));
    await servePages(app, pages);

    try {
      await app.listen({ host: address, port });
    } catch (cause) {
      await app.close();
      if (codeOf(cause) === 'EADDRNOTAVAIL') throw inputError(source, 'page.address', `'${address}' is no address of this computer at this moment; it has ${ownAddresses().join(', ')}, and 0.0.0.0 stands for all of them`, cause);
      throw inputError(source, 'page.port', `${address}:${port} cannot be listened on (${reasonOf(cause)}); choose another port`, cause);
    }
    const bound = app.server.address() as AddressInfo;
    visitors = new Visitors(address, bound.port, { names: options.names ?? [], secure });
    const live = new LiveSocket(app.server, {
      benches: options.benches,
      visitors,
      access,
      mostViewers: options.mostViewers ?? 250,
      ...(options.limits && { limits: options.limits }),
    });
    const sweeping = door === undefined ? null : setInterval(() => door.sweep(), sweepEvery).unref();
    return new HttpServer(app, live, `${secure ? 'https' : 'http'}://${bound.family === 'IPv6' ? `[${bound.address}]` : bound.address}:${bound.port}`, sweeping);
  }

  get viewers(): number {
    return this.live.viewers;
  }

  /** Bytes queued for all viewers together. */
  get waiting(): number {
    return this.live.waiting;
  }

  /** Another certificate from now on, for connections to come. Only where it began with one. */
  renew({ cert, key }: TlsPair): void {
    (this.app.server as unknown as SecureServer).setSecureContext({ cert, key });
  }

  async close(): Promise<void> {
    if (this.sweeping !== null) clearInterval(this.sweeping);
    this.live.close();
    await this.app.close();
  }
}

/** A server that speaks TLS 1.2 or newer. To Fastify it is the same thing: requests, answers, upgrades. */
const secured = ({ cert, key }: TlsPair): FastifyServerFactory => (handler) => createSecureServer({ cert, key, minVersion: 'TLSv1.2' }, handler);

const tooMany = (after: string): Error => Object.assign(new Error(`too many requests from this address; try again in ${after}`), { statusCode: 429 });

const codeOf = (cause: unknown): unknown => (typeof cause === 'object' && cause !== null && 'code' in cause ? cause.code : undefined);

const reasonOf = (cause: unknown): string => {
  const code = codeOf(cause);
  if (code === 'EADDRINUSE') return 'another program has it';
  if (code === 'EACCES') return 'ports below 1024 need rights that this program does not have';
  return cause instanceof Error ? cause.message : String(cause);
};
