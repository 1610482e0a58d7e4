import { join } from 'node:path';
import Papa from 'papaparse';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { csvField, tableCsv, traceCsv } from '../../src/records/export-csv.js';
import { emptyFolder, heldPressure, storeWithRuns } from './example-store.js';

describe('a trace as CSV', () => {
  it('has the header of the project and gives back every double', () => {
    const { store } = storeWithRuns(join(emptyFolder(), 'bench.db'), 1);
    const text = [...traceCsv(store.traceOfRun(1), { zero: 10 })].join('');
    const rows = text.split('\r\n');
    expect(rows[0]).toBe('time_s,pressure_bar');
    expect(rows.at(-1)).toBe('');
    expect(rows.slice(1, -1).map((row) => row.split(',').map(Number))).toEqual(
      Array.from({ length: 300 }, (_, i) => [Math.round(i * 1e4) / 1e6, heldPressure(i)]),
    );
  });

  it('keeps the line of a sample that could not be read, and its flags', () => {
    const trace = { time: Float64Array.of(0, 0.1), pressure: Float64Array.of(1.5, NaN), flags: Uint8Array.of(0, 9) };
    expect([...traceCsv(trace, { flags: true })].join('')).toBe('time_s,pressure_bar,flags\r\n0,1.5,0\r\n0.1,,9\r\n');
  });
});

describe('a table as CSV', () => {
  // OWASP, "CSV Injection": a field must not begin with = + - @, tab or carriage return.
  it.each(['=1+1', '+49 30 1234', '-2+3', '@SUM(A1)', '\t=1', '\r=1', ' =HYPERLINK("x")', '\u200b=1', '=cmd|\' /C calc\'!A0', '"=1"'])('shows the text %j and does not run it', (text) => {
    const shown = Papa.parse<string[]>(tableCsv(['order'], [[text]]), { skipEmptyLines: false }).data[1]?.[0] ?? '';
    expect(shown.replaceAll(/^[\s\p{Cf}]*/gu, '')).not.toMatch(/^[=+\-@]/);
    expect(shown.endsWith(text)).toBe(true);
  });

  it('leaves numbers as numbers', () => {
    expect([csvField(-1.5), csvField(1e-7), csvField(NaN), csvField(null)]).toEqual(['-1.5', '1e-7', '', '']);
  });

  it('is read back by a foreign reader as it was written, but for the guarding apostrophe', () => {
    const row = fc.array(fc.string({ unit: 'binary' }), { minLength: 2, maxLength: 4 });
    fc.assert(
      fc.property(row, (texts) => {
        const { data } = Papa.parse<string[]>(tableCsv(texts.map((_, i) => `c${i}`), [texts]), { delimiter: ',', newline: '\r\n' });
        const read = data[1] ?? [];
        expect(read.map((text, i) => (text === `'${texts[i]}` ? texts[i] : text))).toEqual(texts);
      }),
    );
  });
});
