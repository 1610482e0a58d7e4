import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { NEVER } from 'rxjs';
import { LinkError } from '../../drivers/wiring.js';
import { addPerson } from '../../src/access/people-file.js';
import { roles, type Role } from '../../src/access/roles.js';
import { readBench } from '../../src/daemon/bench-setup.js';
import { RunningBench, type RunningBenchOptions } from '../../src/daemon/running-bench.js';
import { nameOf, peopleOfTests, secrets } from './people-of-tests.js';

const benchText = `bench: north
page: { names: [bench2.shop.example] }
people: people.yaml
plan: plan.yaml
channels:
  - channel: pressure
    input: { driver: tcp-line, host: 127.0.0.1, port: 9 }
    unit: bar
    range: { upper: 1000 bar }
`;
export const planText = 'plan: short proof\ntestPressure: 550 bar\nholdTime: 3 s\nminimumPressure: 530 bar\n';

/** A whole bench with people, as `start` runs it, whose instrument never comes. */
export class GuardedBench {
  readonly folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-access-'));
  bench!: RunningBench;

  path(name: string): string {
    return join(this.folder, name);
  }

  async start(options: Partial<RunningBenchOptions> = {}): Promise<this> {
    writeFileSync(this.path('bench.yaml'), benchText);
    writeFileSync(this.path('plan.yaml'), planText);
    for (const person of await peopleOfTests()) addPerson(this.path('people.yaml'), person);
    for (const page of ['live', 'sign-in']) {
      mkdirSync(this.path(`pages/${page}`), { recursive: true });
      writeFileSync(this.path(`pages/${page}/index.html`), `<!doctype html><title>${page}</title>`);
    }
    mkdirSync(this.path('pages/assets'));
    writeFileSync(this.path('pages/assets/a-1.js'), 'export {};');
    await this.begin(options);
    return this;
  }

  /** Begins, or begins again. */
  async begin(options: Partial<RunningBenchOptions> = {}): Promise<void> {
    const wiring = { open: () => NEVER, readText: (path: string) => Promise.reject(new LinkError('missing', `${path} is not there`)) };
    this.bench = await RunningBench.start({
      files: readBench(this.path('bench.yaml')), source: 'bench.yaml', wiring, log: pino({ level: 'silent' }), software: 'dwellkeeper test',
      pages: this.path('pages'), wait: true, anyPort: true, ...options,
    });
  }

  get address(): string {
    return this.bench.address;
  }

  ask(method: string, path: string, { cookie, body, headers = {} }: { cookie?: string; body?: unknown; headers?: Record<string, string> } = {}): Promise<Response> {
    return fetch(this.address + path, {
      method, redirect: 'manual',
      // Else a connection to a bench that was stopped meanwhile would be used again.
      headers: { connection: 'close', ...(cookie !== undefined && { cookie }), ...(body !== undefined && { 'content-type': 'application/json' }), ...headers },
      ...(body !== undefined && { body: JSON.stringify(body) }),
    });
  }

  /** @returns the cookie of a new session */
  async signIn(role: Role): Promise<string> {
    const answer = await this.ask('POST', '/api/sign-in', { body: { name: nameOf(role), secret: secrets[role] } });
    if (answer.status !== 200) throw new Error(`${answer.status} ${await answer.text()}`);
    return (answer.headers.get('set-cookie') ?? '').split(';')[0] ?? '';
  }

  async signInAll(): Promise<Readonly<Record<Role, string>>> {
    const cookies = await Promise.all(roles.map(async (role) => [role, await this.signIn(role)] as const));
    return Object.fromEntries(cookies) as Record<Role, string>;
  }

  async stop(): Promise<void> {
    await this.bench.stop();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
