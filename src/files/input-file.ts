import { readFileSync } from 'node:fs';
import { inputError } from '../core/problems.js';

const causes: Readonly<Record<string, string>> = {
  ENOENT: 'there is no such file',
  EISDIR: 'is a folder; give a file',
  EACCES: 'may not be read by this user',
  ERR_FS_FILE_TOO_LARGE: 'is larger than 2 GiB; cut it into shorter recordings',
};

/**
 * Bytes of a file that was named on the command line.
 * @throws InputError that says why it cannot be read
 */
export function readBytes(path: string): Uint8Array {
  try {
    return readFileSync(path);
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code ?? '';
    throw inputError(path, '', causes[code] ?? `cannot be read (${code})`, error);
  }
}
