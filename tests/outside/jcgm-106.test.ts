/**
 * JCGM 106:2012 (examples of conformance probability; the examples' inputs are from memory, the results follow from the
 * formula and agree with the published two digits) and ILAC-G8:09/2019 (probability of false acceptance at the
 * acceptance limit for guard band w = r U, U = 2 u).
 */
import { describe, expect, it } from 'vitest';
import { conformanceProbability, conformity } from '../../src/core/fit/guard-band.js';

describe('JCGM 106 conformance probability', () => {
  it.each([
    ['one lower limit, burst strength of a container', 509.7, { lower: 490 }, 8.6, 0.98901, 0.99],
    ['one upper limit, a voltage', -5.47, { upper: -5.4 }, 0.05, 0.919243, 0.92],
    ['two limits, a viscosity', 13.6, { lower: 12.5, upper: 16.3 }, 1.8, 0.66263, 0.66],
  ])('%s', (_name, value, limits, uncertainty, probability, published) => {
    const found = conformanceProbability(value, limits, uncertainty);
    expect(found).toBeCloseTo(probability, 6);
    expect(Number(found.toFixed(2))).toBe(published);
  });
});

describe('ILAC-G8 guard bands', () => {
  it.each([
    [0, 0.5],
    [0.25, 0.308538],
    [0.5, 0.158655],
    [0.83, 0.048457],
    [1, 0.02275],
    [1.5, 0.00135],
  ])('w = %f U: a value on the acceptance limit is falsely accepted with probability %f', (r, probability) => {
    const u = 0.4;
    const limit = 10;
    const acceptance = limit - r * 2 * u;
    expect(1 - conformanceProbability(acceptance, { upper: limit }, u)).toBeCloseTo(probability, 6);
    expect(conformity(acceptance, { upper: limit }, u, 2 * r)).toBe('inside');
    expect(conformity(acceptance + 1e-9, { upper: limit }, u, 2 * r)).not.toBe('inside');
  });

  it.each([
    [9.1, 'inside', 'inside'],
    [9.6, 'barely-inside', 'inside'],
    [10, 'barely-inside', 'inside'],
    [10.4, 'barely-outside', 'outside'],
    [10.9, 'outside', 'outside'],
  ])('limit 10.0 with U = 0.8 (FC-45): %f is %s guarded, %s simply', (value, guarded, simple) => {
    expect(conformity(value, { upper: 10 }, 0.4)).toBe(guarded);
    expect(conformity(value, { upper: 10 }, 0)).toBe(simple);
  });

  it.each([
    [531, 'inside'],
    [530, 'barely-inside'],
    [529.5, 'barely-outside'],
    [528.9, 'outside'],
  ])('a lower limit of 530 with U = 1: %f is %s', (value, found) => {
    expect(conformity(value, { lower: 530 }, 0.5)).toBe(found);
  });
});
