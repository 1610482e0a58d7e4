import { spawn, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { closeSync, constants, existsSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** Waits until something is true; throws with what was waited for when it does not become so. */
export async function until(what: string, isSo: () => boolean, deadline = 20_000): Promise<void> {
  const end = performance.now() + deadline;
  while (!isSo()) {
    if (performance.now() > end) throw new Error(`waited in vain until ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
}

/** A cable between two real serial devices (pseudo terminals of socat): pull it out and put it back. */
export class PtyPair {
  readonly #folder = mkdtempSync(join(tmpdir(), 'bench-cable-'));
  /** The end that the daemon opens. */
  readonly path = join(this.#folder, 'bench');
  /** The end of the instrument. */
  readonly far = join(this.#folder, 'instrument');
  #socat: ChildProcess | undefined;
  #fd: number | undefined;

  async plug(): Promise<void> {
    const end = (link: string) => `pty,raw,echo=0,link=${link}`;
    this.#socat = spawn('socat', [end(this.path), end(this.far)], { stdio: 'ignore' });
    await until('socat has made the pair', () => existsSync(this.path) && existsSync(this.far));
    this.#fd = openSync(this.far, constants.O_RDWR | constants.O_NOCTTY);
  }

  /** What the instrument sends. */
  send(bytes: string | Uint8Array): void {
    if (this.#fd === undefined) throw new Error('the cable is not plugged in');
    writeSync(this.#fd, typeof bytes === 'string' ? Buffer.from(bytes, 'latin1') : bytes);
  }

  async unplug(): Promise<void> {
    if (this.#fd !== undefined) closeSync(this.#fd);
    this.#fd = undefined;
    const gone = this.#socat && this.#socat.exitCode === null && this.#socat.signalCode === null ? once(this.#socat, 'exit') : undefined;
    this.#socat?.kill('SIGTERM');
    await gone;
    this.#socat = undefined;
  }

  async remove(): Promise<void> {
    await this.unplug();
    rmSync(this.#folder, { recursive: true, force: true });
  }
}
