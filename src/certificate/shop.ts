import { readFileSync, statSync } from 'node:fs';
import { inputError } from '../core/problems.js';
import type { ShopSection } from './shop-section.js';

export type Paper = ShopSection['paper'];

/** What a document needs to know of the shop. */
export interface Shop {
  /** `null` where the bench file has no section `shop`. */
  readonly name: string | null;
  readonly address: readonly string[];
  /** A PNG or JPEG. */
  readonly logo: Uint8Array | null;
  readonly paper: Paper;
  /** IANA name of the zone that times are printed in. */
  readonly zone: string;
}

/** bytes: a logo that is larger than this slows every certificate down for nothing. */
const largestLogo = 2_000_000;

/** @throws InputError where the logo is missing, too large or no PNG or JPEG */
export function shopOf(section: ShopSection | undefined, zone: string, source = 'shop'): Shop {
  const { name = null, address = [], logo, paper = 'A4', timeZone = zone } = section ?? {};
  return { name, address, logo: logo === undefined ? null : readLogo(logo, source), paper, zone: timeZone };
}

function readLogo(path: string, source: string): Uint8Array {
  const refuse = (text: string, cause?: unknown): never => {
    throw inputError(source, 'shop.logo', `'${path}' ${text}`, cause);
  };
  let bytes: Uint8Array;
  try {
    if (statSync(path).size > largestLogo) refuse(`is larger than ${largestLogo / 1e6} MB; make it smaller`);
    bytes = readFileSync(path);
  } catch (error) {
    if (error instanceof Error && 'code' in error) refuse('cannot be read; name a PNG or JPEG picture', error);
    throw error;
  }
  const starts = (...signature: readonly number[]) => signature.every((byte, i) => bytes[i] === byte);
  // PNG (W3C PNG, section 5.2) and JPEG (ITU-T T.81, annex B: SOI, then a marker).
  if (!starts(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a) && !starts(0xff, 0xd8, 0xff)) refuse('is no PNG or JPEG picture');
  return bytes;
}
