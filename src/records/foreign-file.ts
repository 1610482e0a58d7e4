import { closeSync, existsSync, openSync, readSync, statSync, type Stats } from 'node:fs';
import { inputError } from '../core/problems.js';
import { applicationId } from './schema.js';

const foreign = 'is a database of another program; name another file for the store';
const noStore = 'is not a Dwellkeeper store; name another file for the store, this one was left as it is';

/** Bytes by which a file is known. */
const headLength = 4096;

/** The sentence about a database that another program made. */
export const foreignDatabase = (path: string): Error => inputError(path, '', foreign);

/**
 * Looks at the first bytes only: nothing is opened, locked, moved or written beside somebody else's file. (A database
 * whose whole content still lies in its write-ahead log is recognised later, by `openForWriting`.) What a damaged store of
 * ours can look like is let through.
 * @throws InputError when it is a folder, a database of another program or no store at all
 */
export function refuseForeignFile(path: string): void {
  const found = lookAt(path);
  if (found?.isDirectory()) throw inputError(path, '', 'is a folder; the store should be a file, for example records.sqlite');
  if (found?.isFile() === false) throw inputError(path, '', 'is a device and no file; the store should be a file, for example records.sqlite');
  const head = headOf(path);
  if (head === null || head.length === 0) return;
  if (head.toString('latin1', 0, 16) !== 'SQLite format 3\0') {
    if (!couldBeDamaged(path, head)) throw inputError(path, '', noStore);
    return;
  }
  // https://www.sqlite.org/fileformat2.html 1.3 and 1.6: application id at 68, number of cells of the first page at 103.
  if (head.length >= 112 && head.readUInt32BE(68) !== applicationId && head.readUInt16BE(103) !== 0) throw foreignDatabase(path);
}

/** `null` where there is nothing, or nothing that can be looked at: that is said in its place. */
function lookAt(path: string): Stats | null {
  try {
    return statSync(path);
  } catch {
    return null;
  }
}

/** `null` where it is not there or cannot be read: that is said in its place. */
function headOf(path: string): Buffer | null {
  const head = Buffer.alloc(headLength);
  try {
    const file = openSync(path, 'r');
    try {
      return head.subarray(0, readSync(file, head, 0, head.length, 0));
    } finally {
      closeSync(file);
    }
  } catch {
    return null;
  }
}

/** A store that lost its head still has its log or its lock beside it, or holds the zeros of a power cut; text is never one. */
function couldBeDamaged(path: string, head: Buffer): boolean {
  if (isText(head)) return false;
  return head.every((byte) => byte === 0) || existsSync(`${path}-wal`) || existsSync(`${path}.lock`);
}

/** UTF-16, or no control signs and either UTF-8 or mostly ASCII. */
function isText(head: Buffer): boolean {
  if ((head[0] === 0xff && head[1] === 0xfe) || (head[0] === 0xfe && head[1] === 0xff)) return true;
  if (!head.every((byte) => (byte >= 32 && byte !== 127) || (byte >= 9 && byte <= 13))) return false;
  return isUtf8(head) || head.filter((byte) => byte < 128).length > 0.8 * head.length;
}

function isUtf8(head: Buffer): boolean {
  try {
    // A letter that is cut off at the end is none that is wrong.
    new TextDecoder('utf-8', { fatal: true }).decode(head, { stream: true });
    return true;
  } catch {
    return false;
  }
}
