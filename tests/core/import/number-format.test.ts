import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { decimalProvenBy, decimalsOf, parseNumber } from '../../../src/core/import/number-format.js';

describe('parseNumber', () => {
  // FC-07: https://github.com/thomasnordquist/MQTT-Explorer/issues/91, https://github.com/CarlVerret/csFastFloat/issues/96
  it.each([
    ['comma', '350,25', 350.25],
    ['comma', '1.234,5', 1234.5],
    ['comma', '1,234.5', undefined],
    ['point', '350.25', 350.25],
    ['point', '1,234.5', 1234.5],
    ['point', '350,25', undefined],
  ] as const)('FC-07: with a decimal %s, %s is %s', (decimal, text, value) => expect(parseNumber(text, decimal)).toBe(value));

  it.each([
    ['point', '1,234', undefined],
    ['comma', '1.234', undefined],
    ['point', '1,234,567', 1_234_567],
    ['comma', '1.234.567,5', 1_234_567.5],
    ['point', "1'234.5", 1234.5],
    ['point', '-.5', -0.5],
    ['point', '5.', 5],
    ['point', '7.522583e-005', 7.522583e-5],
    ['point', '350.2350.3', undefined],
    ['point', '12,34.5', undefined],
    ['point', '.', undefined],
    ['point', '', undefined],
    ['point', '0x10', undefined],
    ['point', '35B', undefined],
  ] as const)('with a decimal %s, %s is %s', (decimal, text, value) => expect(parseNumber(text, decimal)).toBe(value));

  it('reads back every number that is written with a comma', () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e9, max: 1e9 }), (value) => {
        const text = String(value);
        expect(parseNumber(text.replace('.', ','), 'comma')).toBe(Number(text));
      }),
    );
  });
});

describe('decimalProvenBy', () => {
  it.each([
    ['350,25', 'comma'],
    ['350.2', 'point'],
    ['0.181', 'point'],
    ['0,181', 'comma'],
    ['1.234,5', 'comma'],
    ['1,234.5', 'point'],
    ['1.234.567', 'comma'],
    ['1234,567', 'comma'],
    ['1.5e3', 'point'],
    ['1,234', undefined],
    ['7.315', undefined],
    ['350', undefined],
  ] as const)('%s proves %s', (text, decimal) => expect(decimalProvenBy(text)).toBe(decimal));
});

describe('decimalsOf', () => {
  it.each([
    ['350', 0],
    ['350.25', 2],
    ['1.5e-3', 4],
    ['1.5e3', 0],
  ])('%s has %i', (text, decimals) => expect(decimalsOf(text, 'point')).toBe(decimals));
});
