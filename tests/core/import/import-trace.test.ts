import { describe, expect, it } from 'vitest';
import type { ImportOptions } from '../../../src/core/import/import-options.js';
import { importTrace } from '../../../src/core/import/import-trace.js';
import { InputError } from '../../../src/core/problems.js';
import { Flag } from '../../../src/core/trace.js';
import { toBar } from '../../../src/core/units.js';

const read = (text: string, options: ImportOptions = {}) => importTrace(new TextEncoder().encode(text), 'log.csv', options);
const numbers = (text: string, options?: ImportOptions) => {
  const { trace } = read(text, options);
  return [...trace.time].map((time, i) => [time, trace.pressure[i]]);
};
const refusal = (text: string, options?: ImportOptions): string => {
  try {
    read(text, options);
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return 'accepted';
};

describe('FC-51: logger CSV files', () => {
  // https://github.com/adaltas/node-csv-parse/issues/284, https://github.com/mafintosh/csv-parser/issues/196
  const file = [
    '\ufeffLogger 7;SN 0042',
    'Datum;Uhrzeit;Druck [bar]',
    '01.02.2026;10:00:00,0;350,2',
    '01.02.2026;10:00:00,1;350,3',
    '',
    'Datum;Uhrzeit;Druck [bar]',
    '01.02.2026;10:00:05,0;350,1',
  ].join('\r\n');

  it('reads three samples and one restart, day first', () => {
    const { trace, report } = read(file, { dateOrder: 'day-first' });
    expect([...trace.pressure]).toEqual([350.2, 350.3, 350.1]);
    expect([...trace.time]).toEqual([0, 0.1, 5]);
    expect(trace.marks).toMatchObject([{ time: 5, kind: 'device-restart' }]);
    expect(report).toMatchObject({ restarts: 1, delimiter: 'semicolon', decimal: 'comma', unit: 'bar', resolution: 0.1, start: '01.02.2026 10:00:00,0' });
    expect(report.columns).toContain('Datum');
  });

  it('asks for an ambiguous date instead of guessing it', () => {
    expect(refusal(file)).toBe("log.csv: the date '01.02.2026' may have the day or the month first; settle it with --date-order day-first (or month-first)");
  });

  it('does not ask where a later date proves the order', () => {
    expect(refusal(file.replace('01.02.2026;10:00:05', '13.02.2026;10:00:05'))).toBe('accepted');
  });
});

describe('what is read', () => {
  it.each<[string, string, ImportOptions, (readonly number[])[]]>([
    ['tabs and a unit in brackets', 'Time [s]\tPressure [MPa]\n0.0\t55.1\n0.1\t55.2\n', {}, [[0, 551], [0.1, 552]]],
    ['a header with units in parentheses', 'time(sec),pressure (psi)\n0,1000\n1,2000\n', {}, [[0, toBar(1000, 'psi')], [1, toBar(2000, 'psi')]]],
    ['units behind a slash', 't / ms; p / bar\n0;1,5\n100;2,5\n', {}, [[0, 1.5], [0.1, 2.5]]],
    ['a line of units below the header', 'Time;Pressure\ns;bar\n0,0;1,5\n0,1;2,5\n', {}, [[0, 1.5], [0.1, 2.5]]],
    ['a header behind a remark sign', '# time_s pressure_bar\n0.0 1.5\n0.1 2.5\n', {}, [[0, 1.5], [0.1, 2.5]]],
    ['names parted by two blanks', 'time (s)   pressure (bar)\n0.0   1.5\n0.1   2.5\n', {}, [[0, 1.5], [0.1, 2.5]]],
    ['quoted fields with a decimal comma', '"time","pressure [bar]"\n"0,0","350,25"\n', { timeUnit: 's' }, [[0, 350.25]]],
    ['a unit behind every number', 'Time [s];Pressure\n0.0;350.2 bar\n0.5;350.4 bar\n', {}, [[0, 350.2], [0.5, 350.4]]],
    ['blanks behind the numbers and columns that stay empty', 'time_s,pressure_bar,,\n0.0 ,1.5 ,,\n0.1 ,2.5 ,,\n', {}, [[0, 1.5], [0.1, 2.5]]],
    ['ISO 8601', 'timestamp,pressure_bar\n2026-11-25T02:03:04.0Z,1.5\n2026-11-25T02:03:04.1Z,2.5\n', {}, [[0, 1.5], [0.1, 2.5]]],
    ['a day that ends', 'Zeit;Druck in bar\n23:59:59,5;1,5\n00:00:00,5;2,5\n', {}, [[0, 1.5], [1, 2.5]]],
    ['minutes of an hour that ends', 'time,pressure_bar\n59:59.5,1.5\n00:00.5,2.5\n', {}, [[0, 1.5], [1, 2.5]]],
    ['numbers without a header', '0.0;350.2\n0.1;350.3\n', { unit: 'bar', timeUnit: 's' }, [[0, 350.2], [0.1, 350.3]]],
    ['a column by name among several', 'time_s,P1 [bar],P2 [bar]\n0,1.5,9\n1,2.5,9\n', { column: 'P1 [bar]' }, [[0, 1.5], [1, 2.5]]],
    ['a column by number among several', 'time_s,P1 [bar],P2 [bar]\n0,1.5,9\n1,2.5,8\n', { column: '3' }, [[0, 9], [1, 8]]],
    ['the reading beside its set point', 'time_s,setpoint_bar,pressure_bar\n0,5,1.5\n1,5,2.5\n', {}, [[0, 1.5], [1, 2.5]]],
    ['a status column of words', 'time_s,pressure_bar,status\n0,1.5,ok\n1,2.5,ok\n', {}, [[0, 1.5], [1, 2.5]]],
    ['old encodings', 'Zeit [s];Druck [bar];Temperatur [\u00b0C]\n0;1,5;20\n1;2,5;20\n', {}, [[0, 1.5], [1, 2.5]]],
    ['remarks and lines of text between the samples', 'time_s;pressure_bar\n0;1.5\n# pump on\nLogger paused\n1;2.5\n', {}, [[0, 1.5], [1, 2.5]]],
  ])('%s', (_what, text, options, expected) => expect(numbers(text, options)).toEqual(expected));

  it('reads Windows-1252 and UTF-16 as well', () => {
    const text = 'Zeit [s];Druck [bar];Temp [\u00b0C]\n0;1,5;20\n1;2,5;20\n';
    const latin = Uint8Array.from(text, (sign) => sign.charCodeAt(0));
    const utf16 = new Uint8Array([0xff, 0xfe, ...[...text].flatMap((sign) => [sign.charCodeAt(0) & 255, sign.charCodeAt(0) >> 8])]);
    for (const bytes of [latin, utf16]) {
      const { trace, report } = importTrace(bytes, 'log.csv');
      expect([...trace.pressure]).toEqual([1.5, 2.5]);
      expect(report.columns[2]).toBe('Temp [\u00b0C]');
    }
  });

  it('tells what was left out and why', () => {
    const { report } = read('time_s;pressure_bar\n0;1.5\n# pump on\nLogger paused\n\n;3.5\n1;2.5\n');
    expect(report.skipped).toEqual([
      { reason: 'remark', count: 1, line: 3 },
      { reason: 'line of text', count: 1, line: 4 },
      { reason: 'empty line', count: 1, line: 5 },
      { reason: 'time is missing', count: 1, line: 6 },
    ]);
  });

  it('keeps the stand-in numbers of instruments as over and under range, in their place', () => {
    const { trace } = read('time [s];pressure [bar]\n0;350.1\n1;+9.90000000E+37\n2;-9.91E37\n3;350.2\n');
    expect([...(trace.flags ?? [])]).toEqual([Flag.good, Flag.overRange, Flag.underRange, Flag.good]);
    expect([...trace.pressure].filter(Number.isFinite)).toEqual([350.1, 350.2]);
  });

  it('puts what follows a restarted clock behind what was there', () => {
    const { trace, report } = read('time_s,pressure_bar\n0,1.5\n1,2.5\ntime_s,pressure_bar\n0,3.5\n1,4.5\n');
    expect([...trace.time]).toEqual([0, 1, 11, 12]);
    expect(trace.marks).toMatchObject([{ time: 11, kind: 'device-restart' }]);
    expect(report.notes.join()).toContain('how long the pause was is not known');
  });
});

describe('what is refused, and with which sentence', () => {
  it.each<[string, string, ImportOptions, string]>([
    ['an empty file', '', {}, 'log.csv: the file is empty; a trace has a header such as time_s,pressure_bar and a row for each sample'],
    ['only a header', 'time_s,pressure_bar\n', {}, "log.csv: there is only a header ('time_s,pressure_bar') and no sample below it"],
    ['text in a number column', 'time_s,pressure_bar\n0,1.5\n1,about 3\n2,2.5\n', {}, "log.csv: line 3: 'about 3' in column 'pressure_bar' is not a number"],
    ['text in the time column', 'time_s,pressure_bar\n0,1.5\nlater,2.0\n2,2.5\n', {}, "log.csv: line 3: 'later' in column 'time_s' is not a number"],
    ['a number that is two', 'time_s,pressure_bar\n0,350.2\n1,350.2350.3\n', {}, "log.csv: line 3: '350.2350.3' in column 'pressure_bar' is not a number"],
    ['no unit', 'time_s,pressure\n0,1.5\n1,2.5\n', {}, "log.csv: the pressure in 'pressure' has no unit; settle it with --unit bar (or MPa, psi, kPa, mbar, ...)"],
    ['several pressures', 'time_s,P1 [bar],P2 [bar]\n0,1.5,9\n1,2.5,9\n', {}, "log.csv: the columns 'P1 [bar]' and 'P2 [bar]' may each be the pressure; settle it with --column NAME"],
    ['a time without a unit', 'time,pressure_bar\n0,1.5\n1,2.5\n', {}, "log.csv: the time in 'time' (0, 1, ...) has no unit; settle it with --time-unit s (or ms, us, min, h, d)"],
    ['no pressure at all', 'time_s,flow\n0,1.5\n1,2.5\n', { unit: 'bar' }, "log.csv: none of the columns ('flow') says that it is a pressure; settle it with --column NAME"],
    ['an unknown unit', 'time_s,pressure [torr]\n0,1.5\n1,2.5\n', {}, "log.csv: column 'pressure [torr]' has the unit 'torr', which is not a pressure unit known here (bar, mbar, Pa, kPa, MPa, psi, ksi, kgf/cm2, atm, mmHg, cmH2O, mH2O)"],
    ['absolute pressure', 'time_s,pressure (psia)\n0,14.7\n1,15.0\n', {}, "log.csv: column 'pressure (psia)' has the unit 'psia', which is absolute pressure; convert it to gauge pressure first"],
    ['a unit that contradicts the file', 'time_s,pressure_bar\n0,1.5\n1,2.5\n', { unit: 'psi' }, "log.csv: column 'pressure_bar' says bar but --unit says psi; leave the option out or correct the file"],
    ['a column that is not there', 'time_s,Pressure_bar\n0,1.5\n1,2.5\n', { column: 'presure_bar' }, "log.csv: there is no column 'presure_bar' for --column; did you mean 'Pressure_bar'?"],
    ['a bare group or decimal comma', 'time_s;pressure_bar\n0;1,234\n1;1,235\n', {}, "log.csv: '1,234' may be a decimal comma or a grouped thousand; settle it with --decimal comma (or point)"],
    ['two decimal signs', 'time_s;pressure_bar\n0;350,25\n1;350.25\n', {}, "log.csv: line 3: '350.25' in column 'pressure_bar' is not a number with a decimal comma, as the rest of the file; use one decimal sign throughout or say --decimal"],
    ['decimal commas in a file parted by commas', 'time_s,pressure_bar\n0,0,350,2\n0,1,350,3\n', {}, "log.csv: line 2: the header names 2 columns ('time_s' and 'pressure_bar') but the rows have 4 fields; a decimal comma in a file parted by commas cannot be told apart, use ';' or a decimal point"],
    ['hours or minutes', 'time,pressure_bar\n10:11,1.5\n10:12,2.5\n', {}, "log.csv: the time '10:11' may be hours and minutes or minutes and seconds; settle it with --time-unit hh:mm (or mm:ss)"],
    ['only remarks', '# nothing\n# here\n', {}, 'log.csv: there are only remarks in it and no samples'],
    ['a letter', 'Dear all,\nthe trace follows later.\n', {}, "log.csv: line 2 ('the trace follows later.') and those after it hold no time with a number beside it; a sample is for example 12.34,550.2"],
    ['a unit that changes', 'Time [s];Pressure\n0.0;350.2 bar\n0.5;5080 psi\n', {}, "log.csv: line 3: '5080 psi' in column 'Pressure' is not a number in bar, the unit of the rest of the file"],
    ['a day without a clock', 'date;pressure_bar\n2026-01-01;1.5\n2026-01-02;2.5\n', {}, "log.csv: column 'date' holds dates without a time of day; choose another with --time-column"],
  ])('%s', (_what, text, options, sentence) => expect(refusal(text, options)).toBe(sentence));

  it('settles the refused by the option that the sentence names', () => {
    expect(numbers('time_s;pressure_bar\n0;1,234\n1;1,235\n', { decimal: 'comma' })).toEqual([[0, 1.234], [1, 1.235]]);
    expect(numbers('time,pressure_bar\n10:11,1.5\n10:12,2.5\n', { timeUnit: 'mm:ss' })).toEqual([[0, 1.5], [1, 2.5]]);
    expect(numbers('time,pressure_bar\n0,1.5\n1500,2.5\n', { timeUnit: 'ms' })).toEqual([[0, 1.5], [1.5, 2.5]]);
    expect(numbers('n,when_ms,pressure_bar\n1,0,1.5\n2,500,2.5\n', { timeColumn: 'when_ms', timeUnit: 'ms' })).toEqual([[0, 1.5], [0.5, 2.5]]);
  });
});
