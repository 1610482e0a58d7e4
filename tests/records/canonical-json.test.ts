import { createPrivateKey, createPublicKey } from 'node:crypto';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { canonicalJson, sha256 } from '../../src/records/canonical-json.js';
import { isSignedBy, keygen, signMessage, signerFrom } from '../../src/records/seal.js';

const doubleOf = (bits: string): number => Buffer.from(bits, 'hex').readDoubleBE(0);

// Rundgren, Jordan, Erdtman: RFC 8785 (2020), and the test files that its section 3 and appendix B refer to.
describe('canonical JSON, RFC 8785', () => {
  it.each([
    ['arrays', [56, { d: true, '10': null, '1': [] }], '099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42'],
    [
      'structures',
      { '1': { f: { f: 'hi', F: 5 }, '\n': 56 }, '10': {}, '': 'empty', a: {}, '111': [{ e: 'yes', E: 'no' }], A: {} },
      '605f65004ec2db7692522a0852c22f1c989e036d547e88963d1a3143cf3195d5',
    ],
    [
      'values',
      {
        numbers: [Number('333333333.33333329'), 1e30, 4.5, 2e-3, 0.000000000000000000000000001],
        string: '\u20ac$\u000f\u000aA\'B"\\\\"/',
        literals: [null, true, false],
      },
      '2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb',
    ],
    ['unnormalised Unicode', { 'Unnormalized Unicode': 'A\u030a' }, '0d99aad92a125196ff887876643fd3206786a84ddce2cee52ba4ad256d2381d3'],
  ])('%s', (_name, value, hash) => {
    expect(sha256(canonicalJson(value))).toBe(hash);
  });

  it('writes the values example byte for byte', () => {
    const value = { numbers: [Number('333333333.33333329'), 1e30, 4.5, 2e-3, 1e-27], string: '\u20ac$\u000f\u000aA\'B"\\\\"/', literals: [null, true, false] };
    expect(Buffer.from(canonicalJson(value)).toString('hex')).toBe(
      '7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e756d62657273223a5b3333333333333333332e333333333333332c31652b33302c342e352c302e3030322c31652d32375d2c22737472696e67223a22e282ac245c75303030665c6e4127425c225c5c5c5c5c222f227d',
    );
  });

  it('sorts members by UTF-16 code units, section 3.2.3', () => {
    const keys = ['\n', '\r', '1', '</script>', '\u0080', '\u00f6', '\u20ac', '\u{1f602}', '\ufb33'];
    const shuffled = Object.fromEntries([...keys].reverse().map((key) => [key, 0]));
    const found = [...canonicalJson(shuffled).matchAll(/"((?:[^"\\]|\\.)*)":0/g)].map((match) => JSON.parse(`"${match[1]}"`) as string);
    expect(found).toEqual(keys);
  });

  it.each([
    ['0000000000000000', '0'], ['8000000000000000', '0'], ['0000000000000001', '5e-324'], ['8000000000000001', '-5e-324'],
    ['7fefffffffffffff', '1.7976931348623157e+308'], ['ffefffffffffffff', '-1.7976931348623157e+308'],
    ['4340000000000000', '9007199254740992'], ['c340000000000000', '-9007199254740992'], ['4430000000000000', '295147905179352830000'],
    ['44b52d02c7e14af5', '9.999999999999997e+22'], ['44b52d02c7e14af6', '1e+23'], ['44b52d02c7e14af7', '1.0000000000000001e+23'],
    ['444b1ae4d6e2ef4e', '999999999999999700000'], ['444b1ae4d6e2ef4f', '999999999999999900000'], ['444b1ae4d6e2ef50', '1e+21'],
    ['3eb0c6f7a0b5ed8c', '9.999999999999997e-7'], ['3eb0c6f7a0b5ed8d', '0.000001'], ['41b3de4355555553', '333333333.3333332'],
    ['41b3de4355555554', '333333333.33333325'], ['41b3de4355555555', '333333333.3333333'], ['41b3de4355555556', '333333333.3333334'],
    ['41b3de4355555557', '333333333.33333343'], ['becbf647612f3696', '-0.0000033333333333333333'], ['43143ff3c1cb0959', '1424953923781206.2'],
  ])('writes the double %s as %s, appendix B', (bits, text) => {
    expect(canonicalJson(doubleOf(bits))).toBe(text);
  });

  it('refuses what JSON cannot carry', () => {
    const circle: { self?: unknown } = {};
    circle.self = circle;
    for (const value of [doubleOf('7fffffffffffffff'), Infinity, -Infinity, '\ud800', { '\udc00': 1 }, () => 1, circle, 1n, [undefined]]) {
      expect(() => canonicalJson(value)).toThrow(TypeError);
    }
  });

  it('does not depend on the order of members, and reads back as it was', () => {
    fc.assert(
      fc.property(fc.jsonValue({ stringUnit: 'grapheme' }), (value) => {
        const text = canonicalJson(value);
        const back: unknown = JSON.parse(text);
        expect(canonicalJson(back)).toBe(text);
        const reversed = (part: unknown): unknown =>
          Array.isArray(part)
            ? part.map(reversed)
            : typeof part === 'object' && part !== null
              ? Object.fromEntries(Object.entries(part).reverse().map(([key, member]) => [key, reversed(member)]))
              : part;
        expect(canonicalJson(reversed(value))).toBe(text);
      }),
    );
  });
});

// FIPS 180-4 (2015), examples of NIST.
it.each([
  ['', 'e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855'],
  ['abc', 'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad'],
])('SHA-256 of "%s"', (text, hash) => {
  expect(sha256(text)).toBe(hash);
});

// Josefsson and Liusvaara: RFC 8032 (2017), section 7.1, tests 1 and 2.
describe('Ed25519, RFC 8032', () => {
  it.each([
    [
      '9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60', 'd75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a', '',
      'e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b',
    ],
    [
      '4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb', '3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c', '72',
      '92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00',
    ],
  ])('secret key %s', (secret, pub, message, signature) => {
    // RFC 8410 (2018), section 7: the fixed beginning of a PKCS #8 Ed25519 key, and of its public key.
    const key = createPrivateKey({ key: Buffer.from(`302e020100300506032b657004220420${secret}`, 'hex'), format: 'der', type: 'pkcs8' });
    const publicKey = createPublicKey({ key: Buffer.from(`302a300506032b6570032100${pub}`, 'hex'), format: 'der', type: 'spki' });
    expect(createPublicKey(key).export({ format: 'der', type: 'spki' }).subarray(-32).toString('hex')).toBe(pub);
    expect(signMessage(Buffer.from(message, 'hex'), key)).toBe(signature);
    expect(isSignedBy(Buffer.from(message, 'hex'), signature, publicKey)).toBe(true);
    expect(isSignedBy(Buffer.from(`${message}00`, 'hex'), signature, publicKey)).toBe(false);
  });

  it('makes keys that fit each other and nothing else', () => {
    const [mine, other] = [keygen(), keygen()];
    const signature = signerFrom(mine.privateKey).signature('ab'.repeat(32));
    const seal = Buffer.from('ab'.repeat(32), 'hex');
    expect(signerFrom(mine.privateKey).signer).toBe(mine.signer);
    expect(isSignedBy(seal, signature, createPublicKey(mine.publicKey))).toBe(true);
    expect(isSignedBy(seal, signature, createPublicKey(other.publicKey))).toBe(false);
    expect(isSignedBy(seal, 'not hex', createPublicKey(mine.publicKey))).toBe(false);
  });
});
