import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import type { ImportOptions } from '../../../src/core/import/import-options.js';
import { importTrace } from '../../../src/core/import/import-trace.js';
import { InputError } from '../../../src/core/problems.js';
import type { Trace } from '../../../src/core/trace.js';
import { barPer } from '../../../src/core/units.js';

const fixture = (name: string) => readFileSync(new URL(`../../fixtures/measured/${name}`, import.meta.url));
const ends = ({ time, pressure }: Trace) => ({ first: [time[0], pressure[0]], last: [time.at(-1), pressure.at(-1)] });
const refused = (read: () => unknown): string => {
  try {
    read();
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return 'accepted';
};

describe('excerpts of what loggers wrote', () => {
  it('reads times in ms whose thousands are grouped by points', () => {
    const bytes = fixture('chamber-grouped-times.csv');
    expect(refused(() => importTrace(bytes, 'a.csv'))).toContain('--column NUMBER');
    const { trace, report } = importTrace(bytes, 'a.csv', { column: '3', unit: 'bar', timeUnit: 'ms' });
    expect(ends(trace)).toEqual({ first: [0, 7.315], last: [151.303, 7.284] });
    expect(report).toMatchObject({ delimiter: 'semicolon', decimal: 'point', resolution: 0.001, samples: 23, interval: 0.1 });
    expect(report.notes.join()).toContain('grouping');
  });

  it('reads a Dutch header and decimal commas', () => {
    const { trace, report } = importTrace(fixture('chamber-decimal-comma.csv'), 'b.csv', { column: 'Ultimaker 0.1 mm', unit: 'mbar' });
    expect(report).toMatchObject({ decimal: 'comma', timeColumn: 'Tijd (s)', timeFormat: 's', resolution: 0.001 });
    expect([...trace.time.slice(0, 3)]).toEqual([0, 0.1, 0.2]);
    expect([...trace.pressure.slice(0, 3)]).toEqual([0, 0, 0.002]);
  });

  it('reads tabs without a header', () => {
    const { trace, report } = importTrace(fixture('piston-tabs.csv'), 'c.csv', { column: '6', unit: 'bar', timeUnit: 'ms' });
    expect(report.delimiter).toBe('tab');
    expect([...trace.time.slice(0, 2)]).toEqual([0, 0.273]);
    expect([...trace.pressure.slice(0, 2)]).toEqual([4.99, 5.023]);
  });

  it('reads minutes and seconds, leaves out the row of means and the empty rows, and says so', () => {
    const bytes = fixture('loop-minutes.csv');
    expect(refused(() => importTrace(bytes, 'd.csv', { unit: 'MPa' }))).toBe("d.csv: the columns 'pre1' and 'pre2' may each be the pressure; settle it with --column NAME");
    const { trace, report } = importTrace(bytes, 'd.csv', { column: 'pre1', unit: 'MPa' });
    expect(ends(trace)).toEqual({ first: [0, 1.81], last: [654.8, 1.81] });
    expect(report.skipped).toEqual([
      { reason: "time '0' is not a time of day like the others", count: 1, line: 23 },
      { reason: 'empty line', count: 6, line: 24 },
    ]);
  });

  it('reads dates with times and numbers with a blank behind them', () => {
    const { trace, report } = importTrace(fixture('loop-dates.csv'), 'e.csv', { column: 'pre2', unit: 'MPa' });
    expect([...trace.time.slice(0, 3)]).toEqual([0, 0.1, 0.2]);
    expect([...trace.pressure.slice(0, 3)]).toEqual([7.43, 7.44, 7.45]);
    expect(report).toMatchObject({ start: '2024/10/22 15:54:46.928', timeFormat: 'date and time' });
  });

  it('reads remarks, a header and columns parted by blanks', () => {
    const { trace, report } = importTrace(fixture('lung-blanks.dat'), 'f.dat', { unit: 'cmH2O' });
    expect(report).toMatchObject({ delimiter: 'blanks', timeColumn: 'time(sec)', pressureColumn: 'pressure' });
    expect(trace.pressure[0]).toBeCloseTo(4.529 * barPer('cmH2O'), 12);
  });

  it('reads names and units from name=value lines, NaN elsewhere and exponents', () => {
    const { trace, report } = importTrace(fixture('lung-name-value.txt'), 'g.txt');
    expect(report).toMatchObject({ pressureColumn: 'Pressure', unit: 'mmHg', timeFormat: 's', interval: 0.01 });
    expect(trace.pressure[0]).toBeCloseTo(-0.08076637 * barPer('mmHg'), 12);
    expect(trace.flags).toBeUndefined();
  });
});

/** The same files whole, where somebody has put them beside the checkout: path, options, samples, last time (s) and pressure (bar). */
const folder = fileURLToPath(new URL('../../../../shared/data/', import.meta.url));
const ms = { unit: 'bar', timeUnit: 'ms' } as const;
const whole: readonly [string, ImportOptions, number, number, number][] = [
  ['air-chamber-decay/Aluminium.csv', { ...ms, column: '3' }, 1508, 151.303, 7.284],
  ['air-chamber-decay/Prusa.csv', { ...ms, column: '3' }, 1435, 143.696, 7.548],
  ['air-chamber-decay/Ultimaker_010.csv', { ...ms, column: '3' }, 1408, 141.438, 7.425],
  ['air-chamber-decay/Ultimaker_015.csv', { ...ms, column: '3' }, 1426, 143.863, 0.072],
  ['air-chamber-decay/Resultaten_opnieuwaanzetten.csv', { column: '0 Meting', unit: 'mbar' }, 1357, 135.6, -0.037],
  ['air-chamber-decay/friction-Kidney_lc_7bar.csv', { ...ms, column: '6' }, 7849, 80.926, 6.919],
  ['air-chamber-decay/friction-X-ring257_5bar.csv', { ...ms, column: '6' }, 7078, 73.324, 4.928],
  // Volts in truth; that the numbers arrive is what counts here.
  ['cuff-1khz/sample_07_01.dat', { column: '2', unit: 'bar', timeUnit: 's' }, 63899, 63.897999, NaN],
  ['cuff-1khz/sample_07_09.dat', { column: '2', unit: 'bar', timeUnit: 's' }, 29701, 29.700001, NaN],
  ['cuff-1khz/sample_07_13.dat', { column: '2', unit: 'bar', timeUnit: 's' }, 40948, 40.946999, NaN],
  ['cuff-1khz/data0804-raw.dat', { unit: 'mmHg', timeUnit: 's' }, 40305, 40.305, NaN],
  ['pipeline-10hz/1bengzc.csv', { column: 'pre1', unit: 'MPa' }, 6548, 654.8, 1.81],
  ['pipeline-10hz/3bengzc.csv', { column: 'pre2', unit: 'MPa' }, 6383, 638.2, 5.55],
  ['pipeline-10hz/4bengzc.csv', { column: 'pre2', unit: 'MPa' }, 7763, 776.2, 7.46],
  ['skab/anomaly-free-anomaly-free.csv', { unit: 'bar' }, 9405, 9960, 0.382638],
  ['skab/valve1-0.csv', { unit: 'bar' }, 1147, NaN, NaN],
  ['skab/valve2-0.csv', { unit: 'bar' }, 1125, NaN, NaN],
  ['skab/other-1.csv', { unit: 'bar' }, 745, NaN, NaN],
  ['skab/other-11.csv', { unit: 'bar' }, 1190, NaN, NaN],
  ['skab/other-14.csv', { unit: 'bar' }, 905, NaN, NaN],
  ['test-lung-100hz/disconnected.dat', { unit: 'cmH2O' }, 2046, 20.45, 3.902 * barPer('cmH2O')],
  ['test-lung-100hz/quicklung-3.dat', { unit: 'cmH2O' }, 2132, 21.31, 3.223 * barPer('cmH2O')],
  ['test-lung-100hz/quicklung-7.dat', { unit: 'cmH2O' }, 2132, 21.31, 4.598 * barPer('cmH2O')],
  ['test-lung-100hz/source-falling-ventilator.dat', { unit: 'cmH2O' }, 4095, 40.94, 35.361 * barPer('cmH2O')],
  ['test-lung-100hz/source-falling-reference.txt', {}, 14115, 141.14, NaN],
  ['test-lung-100hz/fan005', { unit: 'cmH2O' }, 620, 6.19, -0.003 * barPer('cmH2O')],
  ['test-lung-100hz/fan100', { unit: 'cmH2O' }, 644, 6.43, 38.748 * barPer('cmH2O')],
];

describe.each(existsSync(folder) ? whole : [])('%s, whole', (path, options, samples, lastTime, lastPressure) => {
  it('is read to the last sample', () => {
    const { trace, report } = importTrace(readFileSync(folder + path), path, options);
    expect(report.samples).toBe(samples);
    expect(trace.time.length).toBe(samples);
    expect(report.missing).toBe(0);
    if (!Number.isNaN(lastTime)) expect(trace.time.at(-1)).toBeCloseTo(lastTime, 9);
    if (!Number.isNaN(lastPressure)) expect(trace.pressure.at(-1)).toBeCloseTo(lastPressure, 9);
  });

  it('is refused in one line where its options are needed and not given', () => {
    const message = refused(() => importTrace(readFileSync(folder + path), path));
    expect(message === 'accepted').toBe(Object.keys(options).length === 0);
    expect(message.split('\n')).toHaveLength(1);
  });
});
