import { scryptSync } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import type { Role } from '../../src/access/roles.js';
import { costOf, hashSecret, isSecret, isSecretHash, usualCost } from '../../src/access/secret-hash.js';
import { secretProblem } from '../../src/access/secret-rules.js';
import { cheap } from './people-of-tests.js';

const base64 = (bytes: Buffer): string => bytes.toString('base64').replaceAll('=', '');

describe('hash of a secret', () => {
  it('gives the published value of RFC 7914, section 12, third example (N 16384, r 8, p 1), cut to the 32 bytes that are kept', async () => {
    const published = Buffer.from('7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2', 'hex');
    const salt = Buffer.from('SodiumChloride');
    // The example has a salt of 14 bytes, and ours have 16: the hash is checked by the library's own call, and ours against that.
    expect(scryptSync('pleaseletmein', salt, 64, { N: 16_384, r: 8, p: 1, maxmem: 2 ** 26 }).subarray(0, 32)).toEqual(published);
    const longer = Buffer.from('SodiumChloride16');
    const kept = `$scrypt$ln=14,r=8,p=1$${base64(longer)}$${base64(scryptSync('pleaseletmein', longer, 32, { N: 16_384, r: 8, p: 1, maxmem: 2 ** 26 }))}`;
    expect(await isSecret('pleaseletmein', kept)).toBe(true);
    expect(await isSecret('pleaseletmeim', kept)).toBe(false);
  });

  it('has a salt of its own each time and costs what the cheat sheet asks for', async () => {
    const [one, other] = await Promise.all([hashSecret('480271'), hashSecret('480271')]);
    expect(one).not.toBe(other);
    expect(costOf(one)).toEqual(usualCost);
    expect(2 ** usualCost.ln * usualCost.r * usualCost.p).toBeGreaterThanOrEqual(2 ** 15 * 8 * 3);
    expect(await isSecret('480271', one)).toBe(true);
    expect(await isSecret('480272', one)).toBe(false);
  });

  it('does not care in which of two ways a letter is typed, nor for blanks around', async () => {
    const kept = await hashSecret('Dichtung für M\u00fcller', cheap);
    expect(await isSecret(' Dichtung fu\u0308r Mu\u0308ller ', kept)).toBe(true);
  });

  it.each(['', '480271', '$scrypt$ln=15,r=8,p=3$abc$def', '$scrypt$ln=31,r=8,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA', '$scrypt$ln=20,r=16,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA'])("'%s' is no hash, or would cost more than a bench's computer has", async (text) => {
    expect(isSecretHash(text)).toBe(false);
    expect(await isSecret('x', text)).toBe(false);
  });
});

describe('secrets that may be chosen', () => {
  it.each<[string, Role, boolean]>([
    ['480271', 'operator', true],
    ['480271', 'viewer', true],
    ['48027', 'operator', false],
    ['000000', 'operator', false],
    ['123456', 'operator', false],
    ['987654', 'viewer', false],
    ['ferrule', 'operator', false],
    ['ferrules', 'operator', true],
    ['ferrules', 'engineer', false],
    ['480271480271480271', 'engineer', false],
    ['brass ferrule', 'engineer', true],
    ['J. Doe of bay', 'engineer', true],
    ['j. doe', 'operator', false],
    ['', 'viewer', false],
    ['abc\u0007defghijkl', 'engineer', false],
    ['x'.repeat(201), 'engineer', false],
    ['äöüßäöüéè', 'operator', true],
  ])("'%s' for a %s: %s", (secret, role, fits) => {
    expect(secretProblem(secret, 'J. Doe', role) === null).toBe(fits);
  });
});
