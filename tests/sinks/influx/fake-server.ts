import { once } from 'node:events';
import { createServer, type Server } from 'node:http';
import { onTestFinished } from 'vitest';

/** What a server of the test says to a write. */
export interface FakeAnswer {
  readonly status: number;
  readonly body?: string;
}

/** A server that takes writes and answers what the test wants; every statement is answered as InfluxDB does. */
export class FakeServer {
  /** Lines of all writes that were answered with 204. */
  readonly stored: string[] = [];
  /** Number of lines of every write, whatever the answer. */
  readonly sizes: number[] = [];
  /** Paths asked for. */
  readonly paths = new Set<string>();
  /** Login of the newest request. */
  authorization: string | undefined;

  private constructor(
    private readonly server: Server,
    readonly url: URL,
  ) {}

  static async begin(answer: (lines: readonly string[]) => FakeAnswer, database = 'rig'): Promise<FakeServer> {
    const server = createServer((request, response) => {
      const parts: Buffer[] = [];
      request.on('data', (part: Buffer) => parts.push(part));
      request.on('end', () => {
        fake.authorization = request.headers.authorization;
        const { pathname } = new URL(request.url ?? '', 'http://host');
        fake.paths.add(pathname);
        if (!pathname.endsWith('/write')) {
          response.setHeader('content-type', 'application/json');
          response.end(JSON.stringify({ results: [{ series: [{ name: 'databases', columns: ['name'], values: [[database], ['_internal']] }] }] }));
          return;
        }
        const lines = Buffer.concat(parts).toString().split('\n').filter(Boolean);
        fake.sizes.push(lines.length);
        const { status, body } = answer(lines);
        if (status === 204) for (const line of lines) fake.stored.push(line);
        response.statusCode = status;
        response.end(body);
      });
    });
    server.listen(0, '127.0.0.1');
    await once(server, 'listening');
    const address = server.address();
    if (address === null || typeof address === 'string') throw new Error('no port');
    const fake = new FakeServer(server, new URL(`http://127.0.0.1:${address.port}`));
    onTestFinished(() => fake.end());
    return fake;
  }

  end(): void {
    this.server.close();
    this.server.closeAllConnections();
  }
}
