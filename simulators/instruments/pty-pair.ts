import { spawn } from 'node:child_process';
import { access, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as delay } from 'node:timers/promises';

/** Two serial devices joined back to back: what goes in at one end comes out at the other. */
export interface PtyPair {
  /** Path of the instrument's end. */
  readonly near: string;
  /** Path of the end that a bench opens. */
  readonly far: string;
  /** Unplugs both ends and removes them. */
  readonly close: () => Promise<void>;
}

/** ms within which socat must have made its devices. */
const patience = 5000;

/** Makes a pair with socat. Rejects with a plain sentence when socat is missing or does not come up. */
export async function createPtyPair(): Promise<PtyPair> {
  const folder = await mkdtemp(join(tmpdir(), 'dwellkeeper-pty-'));
  const near = join(folder, 'instrument');
  const far = join(folder, 'bench');
  const socat = spawn('socat', [`pty,raw,echo=0,link=${near}`, `pty,raw,echo=0,link=${far}`], { stdio: ['ignore', 'ignore', 'pipe'] });
  let complaint = '';
  socat.stderr.on('data', (bytes: Buffer) => (complaint = (complaint + bytes.toString()).slice(-2000)));
  const gone = new Promise<Error>((resolve) => {
    socat.once('error', (error: NodeJS.ErrnoException) =>
      resolve(new Error(error.code === 'ENOENT' ? 'socat is not installed; a simulated serial device needs it (Debian: apt install socat)' : `socat could not be started: ${error.message}`)));
    socat.once('exit', () => resolve(new Error(`socat ended at once: ${complaint.trim() || 'no reason given'}`)));
  });
  const close = async (): Promise<void> => {
    if (socat.exitCode === null && socat.signalCode === null && socat.pid !== undefined) {
      const ended = new Promise((resolve) => socat.once('exit', resolve));
      socat.kill('SIGTERM');
      await ended;
    }
    await rm(folder, { recursive: true, force: true });
  };
  const failure = await Promise.race([gone, bothExist(near, far)]);
  if (failure !== null) {
    await close();
    throw failure;
  }
  return { near, far, close };
}

async function bothExist(near: string, far: string): Promise<Error | null> {
  const deadline = performance.now() + patience;
  while (performance.now() < deadline) {
    try {
      await access(near);
      await access(far);
      return null;
    } catch {
      await delay(10);
    }
  }
  return new Error(`socat made no devices within ${patience / 1000} s`);
}
