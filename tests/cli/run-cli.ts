import { spawn } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { onTestFinished } from 'vitest';

const program = fileURLToPath(new URL('../../src/setup/dwellkeeper.mjs', import.meta.url));

export interface Ended {
  readonly code: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

/** A program that is still going on. */
export interface Going {
  /** What it said so far. */
  readonly said: { stdout: string; stderr: string };
  /** Ctrl-C. */
  interrupt(): void;
  readonly ended: Promise<Ended>;
}

/** Starts the program as a person would from a checkout, in the folder given. */
export function start(folder: string, ...args: readonly string[]): Going {
  const child = spawn(process.execPath, [program, ...args], { cwd: folder, stdio: ['ignore', 'pipe', 'pipe'] });
  const said = { stdout: '', stderr: '' };
  child.stdout.setEncoding('utf8').on('data', (text: string) => (said.stdout += text));
  child.stderr.setEncoding('utf8').on('data', (text: string) => (said.stderr += text));
  const ended = new Promise<Ended>((resolve, reject) => {
    child.on('error', reject);
    child.on('close', (code) => resolve({ code, ...said }));
  });
  return { said, interrupt: () => child.kill('SIGINT'), ended };
}

/** Runs the program as a person would from a checkout, in the folder given. */
export const run = (folder: string, ...args: readonly string[]): Promise<Ended> => start(folder, ...args).ended;

/** A folder with these files in it, gone after the test. */
export function folderWith(files: Readonly<Record<string, string>>): string {
  const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-cli-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  for (const [name, text] of Object.entries(files)) writeFileSync(join(folder, name), text);
  return folder;
}

/** Names in a folder, sorted. */
export const namesIn = (folder: string): string[] => readdirSync(folder).sort();
