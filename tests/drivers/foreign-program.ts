import { spawn, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { createServer } from 'node:net';
import { createInterface } from 'node:readline';

/** A program that nobody here wrote, running beside the test; its output is kept for when it fails. */
export class ForeignProgram {
  readonly #child: ChildProcess;
  #said = '';

  constructor(command: string, args: readonly string[]) {
    this.#child = spawn(command, args, { stdio: ['ignore', 'pipe', 'pipe'] });
    this.#child.on('error', (error) => (this.#said += String(error)));
    this.#child.stderr?.on('data', (chunk: Buffer) => (this.#said = (this.#said + chunk.toString()).slice(-4000)));
  }

  /** Its first line, as JSON. */
  async firstLine(): Promise<unknown> {
    const { stdout } = this.#child;
    if (stdout === null) throw new Error('the program has no output');
    for await (const line of createInterface({ input: stdout })) return JSON.parse(line) as unknown;
    throw new Error(`the program ended without a word: ${this.#said}`);
  }

  get running(): boolean {
    return this.#child.exitCode === null && this.#child.signalCode === null;
  }

  async stop(): Promise<void> {
    if (!this.running) return;
    const gone = once(this.#child, 'exit');
    this.#child.kill('SIGKILL');
    await gone;
  }
}

/** A TCP port that nothing listens on at this moment. */
export async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  server.close();
  await once(server, 'close');
  if (address === null || typeof address === 'string') throw new Error('no port was given');
  return address.port;
}
