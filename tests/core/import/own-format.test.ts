import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { importTrace } from '../../../src/core/import/import-trace.js';
import { readOwnFormat } from '../../../src/core/import/own-format.js';
import { Flag } from '../../../src/core/trace.js';

const header = 'time_s,pressure_bar\n';
const bytes = (text: string) => new TextEncoder().encode(text);

describe('the own format', () => {
  it('reads times and pressures as they are written', () => {
    const { trace, report } = importTrace(`${header}0,0.1\n0.1,550.25\n0.2,-0.3\n`, 'run.csv');
    expect([...trace.time]).toEqual([0, 0.1, 0.2]);
    expect([...trace.pressure]).toEqual([0.1, 550.25, -0.3]);
    expect(trace.flags).toBeUndefined();
    expect(report).toMatchObject({ samples: 3, interval: 0.1, resolution: 0.01, unit: 'bar', skipped: [] });
  });

  it('reads every decimal number as the language itself does', () => {
    const number = fc.oneof(
      fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e6, max: 1e6 }).map((value) => value.toFixed(3)),
      fc.integer({ min: -1_000_000, max: 1_000_000 }).map(String),
      fc.stringMatching(/^[+-]?\d{1,22}\.\d{0,20}$/),
    );
    fc.assert(
      fc.property(fc.array(fc.tuple(number, number), { minLength: 1, maxLength: 20 }), (rows) => {
        const read = readOwnFormat(bytes(header + rows.map((row) => `${row.join(',')}\n`).join('')));
        const trace = read?.samples.trace();
        expect([...(trace?.time ?? [])]).toEqual(rows.map(([time]) => Number(time)));
        expect([...(trace?.pressure ?? [])]).toEqual(rows.map(([, pressure]) => Number(pressure)));
      }),
    );
  });

  it('gives what the general reader gives', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 99_999 }), { minLength: 2, maxLength: 50 }), (values) => {
        const rows = values.map((value, i) => `${(i / 10).toFixed(1)},${(value / 100).toFixed(2)}`).join('\n');
        const own = importTrace(`${header}${rows}\n`, 'own');
        const general = importTrace(`# a remark\n${header}${rows}\n`, 'general');
        expect(general.trace).toEqual(own.trace);
        expect(general.report.resolution).toBe(own.report.resolution);
      }),
    );
  });

  it.each([
    ['a mark at the start and CRLF', `\ufeff${header}0,1.0\r\n0.1,2.0\r\n`.replaceAll('bar\n', 'bar\r\n'), [1, 2]],
    ['no line end at the end', `${header}0,1.5\n0.1,2.5`, [1.5, 2.5]],
    ['empty lines at the end', `${header}0,1.5\n0.1,2.5\n\n\n`, [1.5, 2.5]],
  ])('accepts %s', (_what, text, pressures) => {
    expect([...importTrace(bytes(text), 'run.csv').trace.pressure]).toEqual(pressures);
  });

  it('keeps a sample without a number in its place', () => {
    const { trace, report } = importTrace(`${header}0,1.5\n0.1,\n0.2,NaN\n0.3,2.5\n`, 'run.csv');
    expect([...trace.time]).toEqual([0, 0.1, 0.2, 0.3]);
    expect([...trace.pressure]).toEqual([1.5, NaN, NaN, 2.5]);
    expect([...(trace.flags ?? [])]).toEqual([Flag.good, Flag.unreadable, Flag.unreadable, Flag.good]);
    expect(report.missing).toBe(2);
  });

  it('leaves out a last line that was cut short, and says so', () => {
    const { trace, report } = importTrace(`${header}0,550.12\n0.1,550.13\n0.2,550.1`, 'run.csv');
    expect([...trace.time]).toEqual([0, 0.1]);
    expect(report.skipped).toEqual([{ reason: 'last line is cut short', count: 1, line: 4 }]);
  });

  // FC-52: https://github.com/solvcon/solvcon/issues/1285; the core counts them, the import must not touch them.
  it('FC-52: passes equal and backward times on as they are', () => {
    const { trace } = importTrace(`${header}0,350.0\n0.1,350.1\n0.1,412.0\n0.2,350.2\n0.15,350.15\n0.3,350.3\n`, 'run.csv');
    expect([...trace.time]).toEqual([0, 0.1, 0.1, 0.2, 0.15, 0.3]);
    expect([...trace.pressure]).toEqual([350, 350.1, 412, 350.2, 350.15, 350.3]);
  });
});
