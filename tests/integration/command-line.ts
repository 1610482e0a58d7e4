import { spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';

const root = fileURLToPath(new URL('../..', import.meta.url));
const main = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));

/** Builds commands and pages where they are out of date. To be called once before the commands are run. */
export function build(): void {
  const { status, stderr } = spawnSync(process.execPath, ['src/setup/build.mjs'], { cwd: root, encoding: 'utf8' });
  if (status !== 0) throw new Error(`the build failed: ${stderr}`);
}

/** The program in a process of its own. */
export class CommandLine {
  private out = '';
  private err = '';
  private readonly child;
  private readonly ended: Promise<number | null>;

  /** @param environment on top of that of the tests */
  constructor(args: readonly string[], cwd: string, environment: Readonly<Record<string, string>> = {}) {
    this.child = spawn(process.execPath, [main, ...args], { cwd, stdio: ['ignore', 'pipe', 'pipe'], env: { ...process.env, ...environment } });
    this.child.stdout.setEncoding('utf8').on('data', (text: string) => (this.out += text));
    this.child.stderr.setEncoding('utf8').on('data', (text: string) => (this.err += text));
    this.ended = once(this.child, 'close').then(([code]) => code as number | null);
  }

  get stdout(): string {
    return this.out;
  }

  get stderr(): string {
    return this.err;
  }

  /** Address of the page, once it has been printed. */
  async page(): Promise<string> {
    const found = await eventually('the address of the page', () => {
      if (this.child.exitCode !== null) throw new Error(`ended with ${this.child.exitCode}: ${this.err}`);
      return /http:\/\/\S+/.exec(this.out)?.[0];
    });
    return found;
  }

  /** Sends a signal and gives the exit code; `null` where the signal ended it. */
  async end(signal: NodeJS.Signals = 'SIGTERM'): Promise<number | null> {
    if (this.child.exitCode === null && this.child.signalCode === null) this.child.kill(signal);
    return this.ended;
  }

  /** Exit code of a command that ends by itself. */
  exit(): Promise<number | null> {
    return this.ended;
  }
}

/** Looks again and again until there is something, up to a deadline that is no statement about speed. */
export async function eventually<T>(what: string, look: () => T | undefined | false | Promise<T | undefined | false>, seconds = 40): Promise<T> {
  const deadline = performance.now() + seconds * 1000;
  for (;;) {
    const found = await look();
    if (found !== undefined && found !== false) return found;
    if (performance.now() > deadline) throw new Error(`${what} did not come within ${seconds} s`);
    await new Promise((resolve) => setTimeout(resolve, 25));
  }
}
