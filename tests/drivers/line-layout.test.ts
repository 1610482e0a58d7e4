import { describe, expect, it } from 'vitest';
import { inputSchema } from '../../drivers/index.js';
import { lineLayout } from '../../drivers/line-layout.js';
import { parseNumber } from '../../drivers/number-format.js';

const layout = (options: Readonly<Record<string, unknown>> = {}) => {
  const input = inputSchema.parse({ driver: 'serial-line', path: '/dev/ttyBENCH', ...options });
  if (input.driver !== 'serial-line') throw new Error('unreachable');
  return lineLayout(input);
};

describe('a line without any layout configured', () => {
  it.each([
    ['+0123.45 bar', 123.45, 'bar'],
    ['P1= 550.2', 550.2, null],
    ['p=550.2 MPa', 550.2, 'MPa'],
    ['Press: 550.2psi', 550.2, 'psi'],
    ['>+12.345', 12.345, null],
    ['  550.2  ', 550.2, null],
    ['550.2;bar', 550.2, 'bar'],
    ['550.2,bar', 550.2, 'bar'],
    ['550.2\tbar', 550.2, 'bar'],
    ['- 0.5 bar', -0.5, 'bar'],
    ['1.2345E+02', 123.45, null],
    ['12.000 mA', 12, 'mA'],
    ['.5', 0.5, null],
    ['00000', 0, null],
    ['550.2 kgf/cm2', 550.2, 'kgf/cm2'],
  ])('%j is %d', (line, value, unit) => expect(layout()(line)).toMatchObject({ value, unit }));

  it.each([
    ['T1= 23.5', 'malformed'],
    ['P2= 23.5', 'malformed'],
    ['550.2 furlong', 'malformed'],
    ['550.2 bar 3', 'malformed'],
    ['', 'malformed'],
    ['BOOT v1.2', 'malformed'],
    ['ERR: 5', 'error-word'],
    ['ERR 05', 'error-word'],
    ['E12', 'error-word'],
    ['error', 'error-word'],
    ['P1= OL', 'over-range'],
    ['>>>>', 'over-range'],
    ['-OL bar', 'under-range'],
    ['--.- bar', 'no-reading'],
    ['nan', 'no-reading'],
    // SCPI-1999, volume 1, 7.2.1: 9.91E37 is not-a-number (from memory).
    ['+9.91E37', 'no-reading'],
    ['\u00b155.0', 'damaged'],
    ['55\u00000.2', 'damaged'],
    ['55\u007f0', 'damaged'],
  ])('%j is %s', (line, fault) => expect(layout()(line)).toEqual({ fault }));

  it('takes another label only when it is named', () => {
    expect(layout({ label: 'P2' })('P2= 23.5')).toMatchObject({ value: 23.5 });
    expect(layout({ label: 'P2' })('P1= 23.5')).toEqual({ fault: 'malformed' });
  });
  it('takes a decimal comma with a semicolon behind it', () => {
    expect(layout({ numberFormat: 'comma' })('550,2;bar')).toMatchObject({ value: 550.2, unit: 'bar' });
  });
});

describe('a layout that people give', () => {
  it('columns: the number of columns must be right, so that two lines run together are none', () => {
    const decode = layout({ column: 2, columns: 3, unitColumn: 3 });
    expect(decode('1;550.2;bar')).toMatchObject({ value: 550.2, unit: 'bar' });
    expect(decode('1;550.2;bar1;550.3;bar')).toEqual({ fault: 'malformed' });
    expect(decode('1;;bar')).toEqual({ fault: 'no-reading' });
    expect(decode('1;OL;bar')).toEqual({ fault: 'over-range' });
    expect(layout({ column: 2, columns: 2, separator: ' ' })('10:00:01   550.2')).toMatchObject({ value: 550.2 });
  });
  it('pattern: it must match the whole line; value and unit come from its groups', () => {
    const decode = layout({ pattern: 'CH1 (?<value>\\S+) (?<unit>\\w+)' });
    expect(decode('CH1 550.2 bar')).toMatchObject({ value: 550.2, unit: 'bar' });
    expect(decode('xCH1 550.2 bar')).toEqual({ fault: 'malformed' });
    expect(decode('CH1 550.2x bar')).toEqual({ fault: 'malformed' });
  });
  it('pattern: alternatives are held whole, too', () => {
    expect(layout({ pattern: 'A(?<value>\\d+)|B' })('A12 and more')).toEqual({ fault: 'malformed' });
  });
  it('contacts come from named groups, and an unknown word spoils the line', () => {
    const decode = layout({ pattern: '(?<value>\\S+) L(?<lid>\\w)', contacts: { lid: { open: '0', closed: '1' } } });
    expect(decode('550.2 L0')).toMatchObject({ value: 550.2, contacts: [{ contact: 'lid', state: 'open' }] });
    expect(decode('550.2 L1')).toMatchObject({ contacts: [{ contact: 'lid', state: 'closed' }] });
    expect(decode('550.2 L7')).toEqual({ fault: 'malformed' });
  });
  it('a fixed line length refuses a line that lost or gained a character', () => {
    const decode = layout({ lineLength: 12 });
    expect(decode('+0123.45 bar')).toMatchObject({ value: 123.45 });
    expect(decode('+012.45 bar')).toEqual({ fault: 'malformed' });
  });
  it('a start of line such as STX must be there, and is not part of the number', () => {
    const decode = layout({ lineStart: '\u0002', delimiter: '\u0003' });
    expect(decode('\u0002-550.2')).toMatchObject({ value: -550.2 });
    expect(decode('-550.2')).toEqual({ fault: 'malformed' });
    expect(layout()('\u0002-550.2')).toEqual({ fault: 'damaged' });
  });
  it('own words for marks take the place of the usual ones', () => {
    const decode = layout({ marks: { overRange: ['ZU HOCH'] } });
    expect(decode('zu hoch')).toEqual({ fault: 'over-range' });
    expect(decode('OL')).toEqual({ fault: 'malformed' });
    expect(decode('ERR')).toEqual({ fault: 'error-word' });
  });
});

describe('parseNumber', () => {
  it.each([
    ['12,345,678.9', 'point', 12345678.9],
    ['12,34,678.9', 'point', null],
    ['1.234.567,8', 'comma', 1234567.8],
    ['-,5', 'comma', -0.5],
    ['12,5e-1', 'comma', 1.25],
    ['+-5', 'point', null],
    ['--5', 'point', null],
    ['5-', 'point', null],
    ['', 'point', null],
    ['-', 'point', null],
    ['1e', 'point', null],
    ['٣', 'point', null],
  ] as const)('%j in format %s is %j', (field, format, value) => expect(parseNumber(field, format)).toBe(value));
});
