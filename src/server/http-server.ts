import { existsSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import fastify, { type FastifyInstance } from 'fastify';
import { inputError } from '../core/problems.js';
import type { ViewerLimits } from '../sinks/live-viewer.js';
import type { BenchFeed } from './bench-feed.js';
import { benchRoutes } from './bench-routes.js';
import { guard } from './guard.js';
import { LiveSocket } from './live-socket.js';
import { pageHeaders } from './page-headers.js';
import { servePages } from './serve-pages.js';
import { checkListenAddress, Visitors } from './visitors.js';

export interface HttpServerOptions {
  readonly benches: readonly BenchFeed[];
  /** Folder of the built pages (`dist/pages`). */
  readonly pages: string;
  /** 127.0.0.1 unless given; only addresses of this machine itself are served. */
  readonly address?: string;
  /** 0 takes a free one. */
  readonly port?: number;
  /** Most pages that may watch at once. */
  readonly mostViewers?: number;
  readonly limits?: ViewerLimits;
  /** Where `address` and `port` were written, for error sentences. */
  readonly source?: string;
  /** Further routes under the same checks and headers. */
  readonly routes?: (app: FastifyInstance) => void;
}

/** Serves the pages, their JSON and the live data of the given benches. */
export class HttpServer {
  private constructor(
    private readonly app: FastifyInstance,
    private readonly live: LiveSocket,
    /** `http://127.0.0.1:8080` */
    readonly address: string,
  ) {}

  /** @throws InputError for an address that may not be served or is taken, or when the pages were never built */
  static async start(options: HttpServerOptions): Promise<HttpServer> {
    const { address = '127.0.0.1', port = 0, source = '', pages } = options;
    checkListenAddress(address, source, 'address');
    if (!existsSync(join(pages, 'live', 'index.html'))) throw inputError(source, '', 'the pages are not built; run npm run build first');

    // Which names are right is known once the port is: nothing is answered before.
    let visitors: Visitors | null = null;
    let headers: Readonly<Record<string, string>> = {};
    const app = fastify({ bodyLimit: 64 * 1024, forceCloseConnections: true });
    // A form of another page can send plain text without asking; only JSON is taken.
    app.removeContentTypeParser('text/plain');
    app.addHook('onRequest', async (request, reply) => {
      const refusal = visitors === null ? 'starting' : visitors.refusal(request.headers.host, request.headers.origin);
      void reply.headers(headers);
      if (refusal !== null) await reply.code(403).send({ error: refusal });
    });
    app.setErrorHandler<Error & { statusCode?: number }>((error, _request, reply) => {
      const status = error.statusCode !== undefined && error.statusCode < 500 ? error.statusCode : 500;
      return reply.code(status).send({ error: status === 500 ? 'something went wrong in the server' : error.message });
    });
    guard(app, null);
    benchRoutes(app, options.benches);
    options.routes?.(app);
    app.get('/', { config: { needs: 'anyone' } }, (_request, reply) => reply.redirect('/live/'));
    await servePages(app, pages);

    try {
      await app.listen({ host: address, port });
    } catch (cause) {
      await app.close();
      throw inputError(source, 'port', `${address}:${port} cannot be listened on (${reasonOf(cause)}); choose another port`, cause);
    }
    const bound = app.server.address() as AddressInfo;
    visitors = new Visitors(address, bound.port);
    headers = pageHeaders(visitors.sockets);
    const live = new LiveSocket(app.server, {
      benches: options.benches,
      visitors,
      mostViewers: options.mostViewers ?? 50,
      ...(options.limits && { limits: options.limits }),
    });
    return new HttpServer(app, live, `http://${bound.family === 'IPv6' ? `[${bound.address}]` : bound.address}:${bound.port}`);
  }

  get viewers(): number {
    return this.live.viewers;
  }

  /** Bytes queued for all viewers together. */
  get waiting(): number {
    return this.live.waiting;
  }

  async close(): Promise<void> {
    this.live.close();
    await this.app.close();
  }
}

const reasonOf = (cause: unknown): string => {
  const code = typeof cause === 'object' && cause !== null && 'code' in cause ? cause.code : undefined;
  if (code === 'EADDRINUSE') return 'another program has it';
  if (code === 'EACCES') return 'ports below 1024 need rights that this program does not have';
  return cause instanceof Error ? cause.message : String(cause);
};
