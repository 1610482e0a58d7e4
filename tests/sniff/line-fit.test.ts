import { describe, expect, it } from 'vitest';
import { qualityOf } from '../../src/sniff/byte-quality.js';
import { frameOf } from '../../src/sniff/line-frame.js';
import { lineFits } from '../../src/sniff/line-fit.js';
import type { Chunk } from '../../src/sniff/hear.js';
import type { Wanted } from '../../src/sniff/plausible.js';
import { listen } from '../drivers/listen.js';

const chunksOf = (...lines: readonly string[]): Chunk[] => lines.map((line, i) => ({ time: i / 10, bytes: Buffer.from(line, 'latin1') }));
/** Lines with CR LF, heard from the first one on. */
const fitsOf = (lines: readonly string[], wanted: Wanted = {}) => {
  const chunks = chunksOf(...lines.map((line) => `${line}\r\n`));
  return lineFits(chunks, wanted, { ...frameOf(Buffer.concat(chunks.map(({ bytes }) => bytes))), firstLine: 'keep' });
};
/** What the real driver reads from the same lines with what was found. */
function readBy(options: Readonly<Record<string, unknown>>, lines: readonly string[]) {
  const link = listen(options);
  link.lines(...lines);
  return { values: link.values(), faults: link.faults() };
}

describe('how lines can be read', () => {
  it.each<[string, string[], Wanted, number[], string]>([
    ['sign, number and unit', ['+0550.20 bar', '+0550.15 bar', '+0550.25 bar'], {}, [550.2, 550.15, 550.25], 'bar'],
    ['decimal comma', ['550,20 bar', '550,15 bar', '550,25 bar'], {}, [550.2, 550.15, 550.25], 'bar'],
    ['a label of its own', ['P2= 79.8 MPa', 'P2= 79.7 MPa'], {}, [79.8, 79.7], 'MPa'],
    ['columns, pressure told by what the needle shows', ['21,4;550,2;0,3', '21,4;550,1;0,3', '21,4;550,3;0,3'], { expect: 550 }, [550.2, 550.1, 550.3], 'bar'],
    ['columns, unit told by what the needle shows', ['1;7977;OK', '1;7976;OK', '1;7978;OK'], { expect: 550 }, [7977, 7976, 7978], 'psi'],
    ['labels by turns', ['P= 550.2 bar', 'T= 21.4', 'P= 550.1 bar', 'T= 21.4'], { expect: 550 }, [550.2, 550.1], 'bar'],
    ['comments between', ['# ready', '550.2 bar', '550.1 bar', '# still'], {}, [550.2, 550.1], 'bar'],
    ['a current with a contact behind it', ['12.345 mA L1P0', '12.346 mA L1P0'], { range: { lower: 0, upper: 600 } }, [12.345, 12.346], 'mA'],
  ])('%s', (_name, lines, wanted, values, unit) => {
    const [best] = fitsOf(lines, wanted);
    expect(best?.readings).toEqual(values);
    expect(best?.unit).toBe(unit);
    expect(best?.score).toBeGreaterThan(0.3);
    // The driver itself, with the very keys that go into the bench file.
    expect(readBy(best?.options ?? {}, lines)).toEqual({ values, faults: [] });
  });

  it('an error word is understood and is no reading', () => {
    const [best] = fitsOf(['+0.20 bar', 'ERR', '+0.30 bar', '+OL', '+0.20 bar']);
    expect(best).toMatchObject({ readings: [0.2, 0.3, 0.2], understood: 1 });
  });
  it('a number that no pressure can be has no score; text without a number is no fit', () => {
    // What a multimeter with nine run-together characters sends: https://github.com/sigrokproject/sigrok-dumps (uart/cyrustek_es51978).
    expect(fitsOf(['506793002', '507273002', '507513002']).every(({ score }) => score === 0)).toBe(true);
    expect(fitsOf(['ready', 'hello world'])).toEqual([]);
  });
  it('nothing plausible near what the needle shows is said as such', () => {
    const fits = fitsOf(['0.2 bar', '0.3 bar'], { expect: 550 });
    expect(fits[0]).toMatchObject({ score: 0, says: expect.stringMatching(/549\.\d bar away from what the needle shows/) as string });
  });
});

/** https://github.com/sigrokproject/sigrok-dumps (uart/kern_ew_6200-2nm; public domain): a weighing scale at 1200 8N2. */
describe('a weighing scale', () => {
  const lines = ['+0000.07 G U', '+4318.15 G U', '+0000.00 G E', '+0000.00 G E', '+1756.20 G U', '+0026.90 G S'];
  it('its state letter is kept, so that an overload is not zero', () => {
    const fits = fitsOf(lines, { unit: 'bar' });
    const withState = fits.find(({ options }) => String(options['pattern']).includes('(?<state>'));
    expect(withState?.readings).toEqual([0.07, 4318.15, 1756.2, 26.9]);
    expect(readBy(withState?.options ?? {}, lines).faults).toEqual(['error-word', 'error-word']);
  });
});

/** https://github.com/ntpsec/gpsd (test/daemon; BSD-2-Clause): many talkers on one line, each with a checksum. */
describe('marine instruments', () => {
  const lines = ['$SDDPT,5.3,0.4,*79', '$SDHDG,229.8,,,1.3,E*36', '$SDMTW,,C*1A', '$SDVHW,231.3,T,229.9,M,6.6,N,12.3,K*71', '$WIMWV,57.5,R,13.0,N,A*26', '$SDDPT,5.3,0.4,*79'];
  it('each number of each talker is thought of, the checksum is checked, and the needle tells which it is', () => {
    const [best] = fitsOf(lines, { expect: 5.3, unit: 'bar' });
    expect(best?.options).toMatchObject({ checksum: 'xor', ignoreLines: '[$!](?!SDDPT,).*' });
    expect(best?.readings).toEqual([5.3, 5.3]);
    expect(readBy(best?.options ?? {}, [...lines, '$SDDPT,6.3,0.4,*79'])).toEqual({ values: [5.3, 5.3], faults: ['checksum'] });
  });
});

describe('bytes before anything is read from them', () => {
  it('seven bits with parity, heard as eight without, are found by their top bit', () => {
    const parity = (text: string, odd: boolean) =>
      Buffer.from(text, 'latin1').map((byte) => (byte.toString(2).replaceAll('0', '').length % 2 === (odd ? 0 : 1) ? byte | 0x80 : byte));
    // `352.1` CR LF with even parity in the top bit is 33 35 B2 2E B1 8D 0A.
    expect([...parity('352.1\r\n', false)]).toEqual([0x33, 0x35, 0xb2, 0x2e, 0xb1, 0x8d, 0x0a]);
    expect(qualityOf(parity('352.1\r\n352.2\r\n', false)).sevenBits).toBe('even');
    expect(qualityOf(parity('352.1\r\n352.2\r\n', true)).sevenBits).toBe('odd');
    expect(qualityOf(Buffer.from('352.1\r\n352.2\r\n')).sevenBits).toBeNull();
  });
  it('lines that end and begin in an unusual way', () => {
    expect(frameOf(Buffer.from('\u0002350.1\u0003\u0002350.2\u0003\u0002350.3\u0003'))).toEqual({ delimiter: '\u0003', lineStart: '\u0002' });
    expect(frameOf(Buffer.from('350.1;350.2;350.3;350.4'))).toEqual({ delimiter: ';' });
    expect(frameOf(Buffer.from('350.1\r350.2\r'))).toEqual({});
  });
});
