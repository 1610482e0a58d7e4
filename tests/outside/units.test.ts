import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { barPer, fromBar, pressureUnitOf, pressureUnits, toBar, type PressureUnit } from '../../src/core/units.js';

/**
 * Factors to pascal as printed in NIST Special Publication 811 (2008), appendix B.8, 'Pressure or stress', with the
 * number of digits that is printed there.
 */
const printed: readonly [PressureUnit, string][] = [
  ['bar', '1.0e5'],
  ['mbar', '1.0e2'],
  ['atm', '1.01325e5'],
  ['kgf/cm2', '9.80665e4'],
  ['psi', '6.894757e3'],
  ['ksi', '6.894757e6'],
  ['mmHg', '1.333224e2'],
  ['cmH2O', '9.80665e1'],
];

describe('units of pressure against NIST SP 811', () => {
  it.each(printed)('%s is %s Pa', (unit, factor) => {
    const digits = factor.replace(/e.*/, '').replace('.', '').length;
    expect(Number((barPer(unit) * 1e5).toPrecision(digits))).toBe(Number(factor));
  });

  // From lbf = 4.448 221 615 260 5 N and inch = 0.0254 m, both exact (NIST SP 811, B.8).
  it.each<[string, number, number]>([
    ['1 psi', toBar(1, 'psi'), 0.06894757293168362],
    ['5000 psi', toBar(5000, 'psi'), 344.737864658],
    ['6000 psi', toBar(6000, 'psi'), 413.68543759],
    ['20000 psi', toBar(20_000, 'psi'), 1378.951458634],
    ['1250 psi', toBar(1250, 'psi'), 86.1844661646045],
    ['55 MPa', toBar(55, 'MPa'), 550],
    ['1 kgf/cm2', toBar(1, 'kgf/cm2'), 0.980665],
    ['10 mH2O', toBar(10, 'mH2O'), 0.980665],
  ])('%s', (_what, bar, expected) => expect(Math.abs(bar / expected - 1)).toBeLessThan(1e-11));

  it.each<[number, PressureUnit, number]>([
    [250, 'psi', 3625.943443],
    [275, 'psi', 3988.537788],
    [350, 'psi', 5076.320821],
    [420, 'psi', 6091.584985],
    [1, 'kgf/cm2', 1.0197162129779282],
  ])('%d bar in %s', (bar, unit, expected) => expect(Math.abs(fromBar(bar, unit) / expected - 1)).toBeLessThan(1e-9));

  it('does not take the conventional millimetre of mercury for the torr', () => {
    // NIST SP 811 prints both as 1.333224e2; they differ in the eighth digit (torr = 101325/760 Pa, exact).
    expect(barPer('mmHg') * 1e5).toBeCloseTo(133.322387415, 9);
    expect(Math.abs((barPer('mmHg') * 1e5) / (101_325 / 760) - 1)).toBeGreaterThan(1e-7);
  });

  it('comes back from every unit', () => {
    fc.assert(
      fc.property(fc.constantFrom(...pressureUnits), fc.double({ min: -100, max: 20_000, noNaN: true }), (unit, value) => {
        expect(Math.abs(fromBar(toBar(value, unit), unit) - value)).toBeLessThanOrEqual(1e-12 * Math.max(1, Math.abs(value)));
      }),
    );
  });

  it.each([
    ['bar', 'bar'],
    ['Bar (g)', 'bar'],
    ['PSI', 'psi'],
    ['lbf/in2', 'psi'],
    ['N/mm²', 'MPa'],
    ['kg/cm2', 'kgf/cm2'],
    ['hPa', 'mbar'],
    ['bara', undefined],
    ['psia', undefined],
    ['volt', undefined],
  ])('%s is read as %s', (text, unit) => expect(pressureUnitOf(text)).toBe(unit));
});
