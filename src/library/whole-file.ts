import { closeSync, fsyncSync, linkSync, openSync, renameSync, rmSync, writeSync } from 'node:fs';
import { randomBytes } from 'node:crypto';
import { dirname } from 'node:path';
import { inputError } from '../core/problems.js';
import { makeFolder } from '../files/make-folder.js';

/** Writes a new file to the disk, all of it. */
export function writeWhole(path: string, text: string): void {
  const handle = openSync(path, 'wx', 0o644);
  try {
    writeSync(handle, text);
    fsyncSync(handle);
  } finally {
    closeSync(handle);
  }
}

/** Makes what happened in a folder outlast a power cut. */
export function syncFolder(folder: string): void {
  const handle = openSync(folder, 'r');
  try {
    fsyncSync(handle);
  } finally {
    closeSync(handle);
  }
}

/**
 * Puts a file in place only where there is none of that name yet, whole from its first instant: of two that do it at
 * once, in one process or in two, one gets `false`.
 */
export function claim(path: string, text: string): boolean {
  const folder = dirname(path);
  makeFolder(folder);
  const part = `${path}.${randomBytes(6).toString('hex')}.part`;
  try {
    writeWhole(part, text);
    linkSync(part, path);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') return false;
    throw error;
  } finally {
    rmSync(part, { force: true });
  }
  syncFolder(folder);
  return true;
}

/** Puts a finished file in the place of another; one that somebody else put there already is right, too. */
export function putInPlace(part: string, path: string): void {
  try {
    renameSync(part, path);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
  }
  syncFolder(dirname(path));
}

const causes: Readonly<Record<string, string>> = {
  EACCES: 'may not be written by this user',
  EPERM: 'cannot be written there: the file system refuses it',
  EROFS: 'lies on a file system that is read-only',
  ENOSPC: 'cannot be written: the disk is full',
  ENOENT: 'cannot be written: its folder is not there',
  ENOTDIR: 'cannot be written: something in its path is a file and no folder',
};

/** Does some writing; what the disk refuses becomes a sentence for the person who asked for it. @throws InputError */
export function writing<T>(path: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code;
    if (!(error instanceof Error) || code === undefined || !/^E[A-Z]+$/.test(code)) throw error;
    throw inputError(path, '', causes[code] ?? `cannot be written (${code})`, error);
  }
}
