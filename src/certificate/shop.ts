import { readFileSync, statSync } from 'node:fs';
import { inputError } from '../core/problems.js';
import type { PressureUnit } from '../core/units.js';
import type { LabelCharset } from './label-charset.js';
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
  /** Signs of the receipt printer; without it, ASCII. */
  readonly labelCharset?: LabelCharset;
  /** A font for what the document's own has no signs for. */
  readonly font?: Uint8Array;
  /** In which pressures are given too, behind bar; without it, the unit that the plan was written in. */
  readonly unit?: PressureUnit;
  /** IANA name of the zone that times are printed in. */
  readonly zone: string;
}

/** bytes: a logo that is larger than this slows every certificate down for nothing. */
const largestLogo = 2_000_000;
/** bytes: fonts of the Han scripts have some 20 MB. */
const largestFont = 40_000_000;

/** @throws InputError where logo or font is missing, too large or of another kind */
export function shopOf(section: ShopSection | undefined, zone: string, source = 'shop'): Shop {
  const { name = null, address = [], logo, font, pressureUnit, paper = 'A4', timeZone = zone, labelCharset } = section ?? {};
  return {
    name, address, paper, zone: timeZone,
    logo: logo === undefined ? null : readLogo(logo, source),
    ...(font !== undefined && { font: readFont(font, source) }),
    ...(pressureUnit !== undefined && { unit: pressureUnit }),
    ...(labelCharset !== undefined && { labelCharset }),
  };
}

function readLogo(path: string, source: string): Uint8Array {
  const { bytes, refuse } = readShopFile(path, { source, place: 'shop.logo', what: 'a PNG or JPEG picture', largest: largestLogo });
  // PNG (W3C PNG, section 5.2) and JPEG (ITU-T T.81, annex B: SOI, then a marker).
  if (!begins(bytes, 0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a) && !begins(bytes, 0xff, 0xd8, 0xff)) refuse('is no PNG or JPEG picture');
  return bytes;
}

function readFont(path: string, source: string): Uint8Array {
  const { bytes, refuse } = readShopFile(path, { source, place: 'shop.font', what: 'a TrueType or OpenType font', largest: largestFont });
  // OpenType (ISO/IEC 14496-22), table directory: version 1.0 or 'OTTO'; 'ttcf' heads a collection.
  if (begins(bytes, 0x74, 0x74, 0x63, 0x66)) refuse('is a collection of fonts; name a file with a single one');
  if (!begins(bytes, 0, 1, 0, 0) && !begins(bytes, 0x4f, 0x54, 0x54, 0x4f) && !begins(bytes, 0x74, 0x72, 0x75, 0x65)) refuse('is no TrueType or OpenType font');
  return bytes;
}

interface Wanted {
  readonly source: string;
  readonly place: string;
  readonly what: string;
  readonly largest: number;
}

function readShopFile(path: string, { source, place, what, largest }: Wanted): { readonly bytes: Uint8Array; readonly refuse: (text: string, cause?: unknown) => never } {
  const refuse = (text: string, cause?: unknown): never => {
    throw inputError(source, place, `'${path}' ${text}`, cause);
  };
  try {
    if (statSync(path).size > largest) refuse(`is larger than ${largest / 1e6} MB; make it smaller`);
    return { bytes: readFileSync(path), refuse };
  } catch (error) {
    if (error instanceof Error && 'code' in error) refuse(`cannot be read; name ${what}`, error);
    throw error;
  }
}

const begins = (bytes: Uint8Array, ...signature: readonly number[]): boolean => signature.every((byte, i) => bytes[i] === byte);
