import { codePages } from './code-pages.js';
import { plainFor } from './plain-letters.js';

/** Signs that a receipt printer may have; its own setting must be the same. */
export const labelCharsets = ['ascii', 'UTF-8', 'CP437', 'CP850', 'CP852', 'CP858', 'CP866', 'windows-1250', 'windows-1251', 'windows-1252', 'windows-1253', 'windows-1254', 'windows-1257', 'ISO-8859-2', 'ISO-8859-15'] as const;
export type LabelCharset = (typeof labelCharsets)[number];

/** Names as the Internet Assigned Numbers Authority keeps them, where they differ. */
const registered: Partial<Record<LabelCharset, string>> = { ascii: 'utf-8', CP437: 'IBM437', CP850: 'IBM850', CP852: 'IBM852', CP858: 'IBM00858', CP866: 'IBM866' };

/** Media type of a text in a charset. */
export const mediaTypeIn = (charset: LabelCharset): string => `text/plain; charset=${registered[charset] ?? charset.toLowerCase()}`;

/** A text as a printer can print it. */
export interface PrintableText {
  readonly text: string;
  /** Letters stand there in a plainer form. */
  readonly plainer: boolean;
  /** Signs stand there by their Unicode number. */
  readonly numbered: boolean;
}

/** Gives each sign that the charset lacks in plain letters, else by its number: `[U+674E]`; a question mark would tell nothing. */
export function printable(text: string, charset: LabelCharset): PrintableText {
  const has = signsOf(charset);
  let [plainer, numbered] = [false, false];
  const signs = [...text.normalize('NFC')].map((sign) => {
    if (has(sign)) return sign;
    const plain = plainFor(sign);
    if (plain !== null) {
      plainer ||= plain.lost;
      return plain.text;
    }
    // Joiners and marks that hold on to the sign before them have no width of their own.
    if (/[\p{Cf}\p{M}]/u.test(sign)) {
      plainer = true;
      return '';
    }
    numbered = true;
    return `[U+${(sign.codePointAt(0) ?? 0).toString(16).toUpperCase().padStart(4, '0')}]`;
  });
  return { text: signs.join(''), plainer, numbered };
}

/** The bytes of a text that has been made printable. */
export function encodeIn(text: string, charset: LabelCharset): Uint8Array {
  if (charset === 'ascii' || charset === 'UTF-8') return new TextEncoder().encode(text);
  const page = pageOf(charset);
  return Uint8Array.from(text, (sign) => page.get(sign) ?? sign.charCodeAt(0));
}

function signsOf(charset: LabelCharset): (sign: string) => boolean {
  if (charset === 'UTF-8') return (sign) => !/\p{Cc}/u.test(sign);
  const page = charset === 'ascii' ? null : pageOf(charset);
  return (sign) => /^[\x20-\x7e]$/.test(sign) || page?.has(sign) === true;
}

const pages = new Map<LabelCharset, ReadonlyMap<string, number>>();

/** Byte of each sign beyond ASCII. */
function pageOf(charset: Exclude<LabelCharset, 'ascii' | 'UTF-8'>): ReadonlyMap<string, number> {
  const known = pages.get(charset);
  if (known !== undefined) return known;
  // The control signs of ISO 8859 (C1) are nothing to print.
  const page = new Map([...codePages[charset]].flatMap((sign, i) => (/[\p{Cc}\ufffd]/u.test(sign) ? [] : [[sign, 128 + i] as const])));
  pages.set(charset, page);
  return page;
}
