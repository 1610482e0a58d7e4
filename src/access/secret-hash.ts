import { randomBytes, scrypt, timingSafeEqual } from 'node:crypto';

/** Cost of a hash: memory is 128 * 2^ln * r bytes, and work grows with p. */
export interface HashCost {
  /** log2 of N. */ readonly ln: number;
  readonly r: number;
  readonly p: number;
}

/**
 * 32 MiB and three passes: one of the equal settings of the OWASP Password Storage Cheat Sheet for scrypt (N = 2^15, r = 8,
 * p = 3). The first of them (N = 2^17, p = 1) would take 128 MiB beside the acquisition of a small computer.
 */
export const usualCost: HashCost = { ln: 15, r: 8, p: 3 };

const hashBytes = 32;
const saltBytes = 16;
const written = /^\$scrypt\$ln=(\d{1,2}),r=(\d{1,2}),p=(\d{1,2})\$([A-Za-z0-9+/]{22,64})\$([A-Za-z0-9+/]{43})$/;

/** What is too cheap to guess through, or would take more than 256 MiB, is no cost of ours. */
const fits = ({ ln, r, p }: HashCost): boolean => ln >= 10 && ln <= 20 && r >= 1 && p >= 1 && p <= 16 && 2 ** ln * r <= 2 ** 21;

interface Parts {
  readonly cost: HashCost;
  readonly salt: Buffer;
  readonly hash: Buffer;
}

function partsOf(text: string): Parts | null {
  const [, ln, r, p, salt = '', hash = ''] = written.exec(text) ?? [];
  const cost = { ln: Number(ln), r: Number(r), p: Number(p) };
  return fits(cost) ? { cost, salt: Buffer.from(salt, 'base64'), hash: Buffer.from(hash, 'base64') } : null;
}

/** Whether a text is a hash of ours: `$scrypt$ln=15,r=8,p=3$SALT$HASH` (form: PHC string format; RFC 7914 for scrypt). */
export const isSecretHash = (text: string): boolean => partsOf(text) !== null;

/** The cost that a hash was made with. @throws RangeError where it is none */
export function costOf(text: string): HashCost {
  const parts = partsOf(text);
  if (parts === null) throw new RangeError('not a hash of a secret');
  return parts.cost;
}

const base64 = (bytes: Buffer): string => bytes.toString('base64').replaceAll('=', '');

// The same letters may be typed in two ways (RFC 8265 2.2.2 and Unicode 15 annex: NFKC); blanks around are no part of it.
const typed = (secret: string): string => secret.normalize('NFKC').trim();

function derive(secret: string, salt: Buffer, { ln, r, p }: HashCost): Promise<Buffer> {
  const N = 2 ** ln;
  return new Promise((resolve, reject) => {
    scrypt(typed(secret), salt, hashBytes, { N, r, p, maxmem: 128 * N * r * 2 }, (error, key) => (error === null ? resolve(key) : reject(error)));
  });
}

/** A secret as it may be kept: with a salt of its own and what it cost. Takes some tenths of a second, beside the event loop. */
export async function hashSecret(secret: string, cost: HashCost = usualCost): Promise<string> {
  const salt = randomBytes(saltBytes);
  return `$scrypt$ln=${cost.ln},r=${cost.r},p=${cost.p}$${base64(salt)}$${base64(await derive(secret, salt, cost))}`;
}

/** Whether a secret is the one that was hashed; false for a text that is no hash. */
export async function isSecret(secret: string, kept: string): Promise<boolean> {
  const parts = partsOf(kept);
  if (parts === null) return false;
  return timingSafeEqual(await derive(secret, parts.salt, parts.cost), parts.hash);
}
