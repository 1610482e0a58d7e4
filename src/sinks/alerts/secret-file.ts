import { readFileSync, statSync } from 'node:fs';
import { inputError } from '../../core/problems.js';

/**
 * The secret in a file, without blanks around it. Read anew for each use, so that a changed password needs no restart.
 * The text never goes into a sentence.
 * @throws InputError where there is none, it is empty, or everybody may read it
 */
export function readSecret(path: string, source: string, place: string): string {
  const text = readText(path, source, place).trim();
  if (text === '') throw inputError(source, place, `${path} is empty; it should hold the secret and nothing else`);
  if (/\p{Cc}/u.test(text)) throw inputError(source, place, `${path} should hold one line of text, the secret and nothing else`);
  if ((statSync(path).mode & 0o007) !== 0) throw inputError(source, place, `${path} may be read by everybody on this computer; run chmod o= on it`);
  return text;
}

/** The text of a file that a bench file names. @throws InputError */
export function readText(path: string, source: string, place: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException;
    throw inputError(source, place, `${path}: ${code === 'ENOENT' ? 'there is no such file' : code === 'EACCES' ? 'may not be read by this user' : `cannot be read (${code ?? ''})`}`, cause);
  }
}
