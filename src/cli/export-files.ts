import { createWriteStream, existsSync, linkSync, renameSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { inputError } from '../core/problems.js';
import { makeFolder } from '../files/make-folder.js';

/** One file to be written; its text is made while it is written. */
export interface WantedFile {
  readonly name: string;
  readonly text: () => Iterable<string>;
}

/**
 * The folder to write to, made when it is not there.
 * @param force write over files
 * @throws InputError where a file is there already or the folder cannot be made: then nothing is written
 */
export function checkFolder(folder: string, names: Iterable<string>, force: boolean): void {
  for (const name of force ? [] : names) {
    if (existsSync(join(folder, name))) throw inputError(join(folder, name), '', 'is there already; choose another folder, or --force to write over it');
  }
  try {
    makeFolder(folder);
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException;
    throw inputError(folder, '', code === 'EEXIST' ? 'is a file; give a folder' : `cannot be made (${code ?? String(cause)}); give a folder in which this user may write`, cause);
  }
}

/** Writes a file under another name first, so that nobody ever finds half of one. @returns its path */
export async function writeFileWhole(folder: string, { name, text }: WantedFile, force: boolean): Promise<string> {
  const path = join(folder, name);
  const part = join(folder, `.${name}.${process.pid}.part`);
  try {
    await pipeline(Readable.from(text()), createWriteStream(part, { flags: 'wx' }));
    if (force) renameSync(part, path);
    else {
      // Unlike a rename, a link never takes the place of a file that came there meanwhile.
      linkSync(part, path);
      rmSync(part);
    }
  } catch (error) {
    rmSync(part, { force: true });
    const { code } = error as NodeJS.ErrnoException;
    if (code === undefined || code === 'ERR_INVALID_ARG_TYPE') throw error;
    throw inputError(path, '', code === 'EEXIST' ? 'is there already; choose another folder, or --force to write over it' : `cannot be written (${code})`, error);
  }
  return path;
}

/** Writes to stdout at the pace of whoever reads it. */
export const writeOut = (text: Iterable<string>): Promise<void> => pipeline(Readable.from(text), process.stdout, { end: false });
