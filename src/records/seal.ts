import { createPrivateKey, createPublicKey, generateKeyPairSync, sign, verify, type KeyObject } from 'node:crypto';
import { sha256 } from './canonical-json.js';

/** The seal before the first record of a store that follows no other. */
export const firstSeal = '0'.repeat(64);

/**
 * SHA-256 over a record in canonical JSON and the seal before it. The record names the digest of its trace, so the
 * seal covers record, trace and everything sealed earlier.
 */
export function sealOf(record: string, previous: string): string {
  return sha256(`dwellkeeper seal 1\n${previous}\n${record}`);
}

/** An Ed25519 key pair (RFC 8032) as PEM texts. The private one stays with whoever answers for the records. */
export function keygen(): { privateKey: string; publicKey: string; signer: string } {
  const pair = generateKeyPairSync('ed25519');
  return {
    privateKey: pair.privateKey.export({ type: 'pkcs8', format: 'pem' }).toString(),
    publicKey: pair.publicKey.export({ type: 'spki', format: 'pem' }).toString(),
    signer: signerOf(pair.publicKey),
  };
}

/** Short name of a public key: the first 16 hex digits of the SHA-256 of its DER form. */
export function signerOf(publicKey: KeyObject): string {
  return sha256(publicKey.export({ type: 'spki', format: 'der' })).slice(0, 16);
}

/** Signs a message with Ed25519. @returns 128 hex digits. */
export function signMessage(message: Uint8Array, privateKey: KeyObject): string {
  return sign(null, message, privateKey).toString('hex');
}

export function isSignedBy(message: Uint8Array, signature: string, publicKey: KeyObject): boolean {
  return /^[0-9a-f]{128}$/.test(signature) && verify(null, message, publicKey, Buffer.from(signature, 'hex'));
}

/** Signs seals with one private key. */
export interface Signer {
  readonly signer: string;
  /** Signs the 32 bytes of a seal. */
  signature(seal: string): string;
}

/** @throws Error of node:crypto when the text is no Ed25519 private key. */
export function signerFrom(privateKeyPem: string): Signer {
  const key = createPrivateKey(privateKeyPem);
  if (key.asymmetricKeyType !== 'ed25519') throw new TypeError(`an Ed25519 key is needed, this one is ${key.asymmetricKeyType}`);
  return { signer: signerOf(createPublicKey(key)), signature: (seal) => signMessage(Buffer.from(seal, 'hex'), key) };
}
