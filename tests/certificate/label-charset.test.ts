import { execFileSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { codePages } from '../../src/certificate/code-pages.js';
import { encodeIn, labelCharsets, mediaTypeIn, printable } from '../../src/certificate/label-charset.js';

/** Every sign from U+0020 to the end of Greek and Cyrillic, punctuation, currency, boxes. */
const signs = [[0x20, 0x7e], [0xa0, 0x52f], [0x2010, 0x2122], [0x2500, 0x25ff]].flatMap(([from = 0, to = 0]) => Array.from({ length: to - from + 1 }, (_, i) => String.fromCodePoint(from + i))).filter((sign) => !/\p{M}|\p{Cn}/u.test(sign) && sign === sign.normalize('NFC'));

/** What Python's codecs, an independent program, make of the bytes. */
const decodedBy = (bytes: Readonly<Record<string, string>>): Record<string, string> =>
  JSON.parse(execFileSync('python3', ['-c', "import json,sys; print(json.dumps({k: bytes.fromhex(v).decode('utf-8' if k == 'ascii' else k, errors='replace') for k, v in json.load(sys.stdin).items()}))"], { input: JSON.stringify(bytes), encoding: 'utf8' })) as Record<string, string>;

describe('signs of a receipt printer', () => {
  it('have the bytes that Python gives them, in every charset; what a charset lacks is never sent as another sign', () => {
    const had = Object.fromEntries(labelCharsets.map((charset) => [charset, signs.filter((sign) => printable(sign, charset).text === sign).join('')]));
    const bytes = Object.fromEntries(labelCharsets.map((charset) => [charset, Buffer.from(encodeIn(had[charset] ?? '', charset)).toString('hex')]));
    expect(decodedBy(bytes)).toEqual(had);
    // A code page has 128 signs beyond ASCII; some are taken.
    for (const charset of labelCharsets) if (charset !== 'ascii') expect([charset, (had[charset] ?? '').length]).toEqual([charset, expect.toSatisfy((count: number) => count > 95 + 85)]);
  });

  it('of the code pages kept here are those that Python knows', () => {
    const all = Object.fromEntries(Object.keys(codePages).map((name) => [name, Buffer.from(Array.from({ length: 128 }, (_, i) => 128 + i)).toString('hex')]));
    expect(decodedBy(all)).toEqual(codePages);
  });

  it.each([
    ['ascii', 'Müller & Søn, Łódź ≤ 315 bar', 'Muller & Son, Lodz <= 315 bar', true, false],
    ['ascii', 'Straße 4, Œuvre ½″', "Strasse 4, Oeuvre 1/2", true, true],
    ['ascii', 'Иванов, Σωτήρης', 'Ivanov, Sotiris', true, false],
    ['ascii', '李 DN12', '[U+674E] DN12', false, true],
    ['ascii', '315 bar – 20 °C', '315 bar - 20 deg C', false, false],
    ['CP850', 'Müller, Łódź', 'Müller, Lódz', true, false],
    ['CP852', 'Müller, Łódź', 'Müller, Łódź', false, false],
    ['CP858', '20 €', '20 €', false, false],
    ['CP866', 'Иванов, Müller', 'Иванов, Muller', true, false],
    ['windows-1253', 'Σωτήρης', 'Σωτήρης', false, false],
    ['UTF-8', '李 Müller Łódź', '李 Müller Łódź', false, false],
  ] as const)('%s: %s is printed as %s', (charset, text, shown, plainer, numbered) => {
    const made = printable(text, charset);
    expect(made.text.replace('[U+2033]', '')).toBe(shown);
    expect([made.plainer, made.numbered]).toEqual([plainer, numbered]);
  });

  it('are named to whoever takes the file', () => {
    expect(['ascii', 'UTF-8', 'CP858', 'windows-1252'].map((charset) => mediaTypeIn(charset as (typeof labelCharsets)[number]))).toEqual([
      'text/plain; charset=utf-8', 'text/plain; charset=utf-8', 'text/plain; charset=IBM00858', 'text/plain; charset=windows-1252',
    ]);
  });
});
