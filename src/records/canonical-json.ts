import { createHash } from 'node:crypto';

/**
 * JSON in the one form that RFC 8785 gives to a value: members sorted by UTF-16 code units, no blanks, numbers and
 * strings as ECMAScript writes them. Members that are `undefined` are left out, as JSON does.
 * @throws TypeError for what JSON cannot carry: NaN, infinities, functions, lone surrogates, circles.
 */
export function canonicalJson(value: unknown): string {
  return write(value, []);
}

function write(value: unknown, within: readonly object[]): string {
  if (value === null || typeof value === 'boolean') return String(value);
  if (typeof value === 'number') {
    if (!Number.isFinite(value)) throw new TypeError(`${value} has no form in JSON`);
    return JSON.stringify(value);
  }
  if (typeof value === 'string') {
    if (/\p{Surrogate}/u.test(value)) throw new TypeError('a lone surrogate has no form in canonical JSON');
    return JSON.stringify(value);
  }
  if (typeof value !== 'object') throw new TypeError(`a ${typeof value} has no form in JSON`);
  if (within.includes(value)) throw new TypeError('a value that contains itself has no form in JSON');
  const inside = [...within, value];
  if (Array.isArray(value)) return `[${value.map((item) => write(item, inside)).join(',')}]`;
  const members = Object.entries(value).filter(([, member]) => member !== undefined);
  // The default order of strings is by UTF-16 code units, which is what RFC 8785, section 3.2.3 asks for.
  members.sort(([a], [b]) => (a < b ? -1 : 1));
  return `{${members.map(([key, member]) => `${write(key, inside)}:${write(member, inside)}`).join(',')}}`;
}

/** SHA-256 (FIPS 180-4) of bytes or of a text in UTF-8, as 64 hex digits. */
export function sha256(content: string | Uint8Array): string {
  return createHash('sha256').update(content).digest('hex');
}
