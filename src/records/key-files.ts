import { createPublicKey } from 'node:crypto';
import { closeSync, fsyncSync, openSync, readFileSync, statSync, unlinkSync, writeSync } from 'node:fs';
import { inputError } from '../core/problems.js';
import { keygen, signerFrom, type Signer } from './seal.js';

/** What `writeKeys` made. */
export interface KeyFiles {
  readonly privateFile: string;
  readonly publicFile: string;
  /** Short name of the key, as it stands beside each signature. */
  readonly signer: string;
}

/**
 * Makes a key pair: the private key for its owner alone (mode 0600), the public one beside it. Never writes over a file.
 * @throws InputError where either file is there already or cannot be written
 */
export function writeKeys(privateFile: string): KeyFiles {
  const publicFile = `${privateFile.replace(/\.pem$/i, '')}.public.pem`;
  const keys = keygen();
  writeNew(privateFile, keys.privateKey, 0o600);
  try {
    writeNew(publicFile, keys.publicKey, 0o644);
  } catch (error) {
    unlinkSync(privateFile);
    throw error;
  }
  return { privateFile, publicFile, signer: keys.signer };
}

function writeNew(path: string, text: string, mode: number): void {
  try {
    const handle = openSync(path, 'wx', mode);
    try {
      writeSync(handle, text);
      fsyncSync(handle);
    } finally {
      closeSync(handle);
    }
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    const why = code === 'EEXIST' ? 'is there already, and a key is never written over: what it signed could not be checked any more' : code === 'ENOENT' ? 'cannot be made: there is no such folder' : `cannot be written (${code ?? String(error)})`;
    throw inputError(path, '', why, error);
  }
}

/**
 * Signs with the private key in a file.
 * @param source what names the file, for sentences; `place` the field in it
 * @throws InputError where there is none, it is no Ed25519 key, or others may read it
 */
export function signerOfFile(path: string, source = path, place = ''): Signer {
  const text = readKey(path, source, place);
  if ((statSync(path).mode & 0o077) !== 0) throw inputError(source, place, `${path} may be read by others than its owner, and whoever has it can sign; run chmod 600 on it`);
  try {
    return signerFrom(text);
  } catch (cause) {
    throw inputError(source, place, `${path} is not an Ed25519 private key in PEM; 'dwellkeeper keygen' makes one`, cause);
  }
}

/** The PEM text of a public key. @throws InputError where there is none, or it is another kind of key */
export function publicKeyFrom(path: string): string {
  const text = readKey(path, path, '');
  if (text.includes('PRIVATE KEY')) throw inputError(path, '', 'is a private key; give the public one (its name ends in .public.pem) and keep the private one to yourself');
  try {
    if (createPublicKey(text).asymmetricKeyType === 'ed25519') return text;
  } catch (cause) {
    throw inputError(path, '', "is not a public key in PEM; 'dwellkeeper keygen' makes one beside the private key", cause);
  }
  throw inputError(path, '', 'is a public key of another kind; seals are signed with Ed25519');
}

function readKey(path: string, source: string, place: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException;
    throw inputError(source, place, `${source === path ? '' : `${path}: `}${code === 'ENOENT' ? "there is no such file; 'dwellkeeper keygen' makes a key" : code === 'EACCES' ? 'may not be read by this user' : `cannot be read (${code ?? ''})`}`, cause);
  }
}
