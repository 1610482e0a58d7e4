import { LinkError, type LinkFault } from './wiring.js';

/**
 * The serial library names a failure in its text only, and its text carries the system's words for it; every reading of
 * wording is in this table, and the tests hold it against the real library.
 */
const serialWords: readonly (readonly [RegExp, LinkFault, string])[] = [
  [/lock port|resource busy|resource temporarily unavailable|EBUSY/i, 'busy', 'is in use by another program'],
  [/no such file|no such device|ENOENT|ENODEV|ENXIO/i, 'missing', 'is not there; is the cable plugged in'],
  [/permission denied|EACCES|EPERM/i, 'denied', 'may not be opened by this user; add the user to the group of the port, often dialout'],
  [/inappropriate ioctl|ENOTTY|is a directory|not a tty/i, 'unusable', 'is not a serial port'],
  [/baud|invalid argument|EINVAL/i, 'unusable', 'does not take these settings'],
];

const socketCodes: Readonly<Record<string, readonly [LinkFault, string]>> = {
  ECONNREFUSED: ['refused', 'refuses the connection; does the device server listen on this port'],
  ENOTFOUND: ['missing', 'is not a known host name'],
  EAI_AGAIN: ['missing', 'cannot be looked up; is the network there'],
  EHOSTUNREACH: ['missing', 'cannot be reached; is it switched on and on this network'],
  ENETUNREACH: ['missing', 'cannot be reached; is the network there'],
  ETIMEDOUT: ['missing', 'does not answer; is it switched on and on this network'],
  ECONNRESET: ['lost', 'closed the connection'],
  EPIPE: ['lost', 'closed the connection'],
};

/** Why a serial port could not be opened, as a sentence that names it. */
export function serialError(where: string, cause: Error): LinkError {
  const [, code, text] = serialWords.find(([words]) => words.test(cause.message)) ?? [null, 'unusable', `cannot be opened (${cause.message})`] as const;
  return new LinkError(code, `${where} ${text}`, { cause });
}

/** Why a TCP connection could not be made or broke, as a sentence that names it. */
export function socketError(where: string, cause: NodeJS.ErrnoException): LinkError {
  const [code, text] = socketCodes[cause.code ?? ''] ?? (['lost', `failed (${cause.message})`] as const);
  return new LinkError(code, `${where} ${text}`, { cause });
}
