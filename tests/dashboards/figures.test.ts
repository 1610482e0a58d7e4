import { describe, expect, it } from 'vitest';
import { decimalsOf, figure, inUnit, pressureText } from '../../dashboards/shared/figures.js';
import { nearRange, pressureTicks, runRange } from '../../dashboards/shared/pressure-scale.js';
import { fromBar } from '../../src/core/units.js';

describe('pressures on the page', () => {
  // 1 psi = 6894.757 Pa: NIST SP 811 (2008), appendix B.8. 550 bar = 55 MPa = 7977.1 psi.
  it.each([
    [550, 'bar', 0.1, '550.0'],
    [550, 'MPa', 0.1, '55.00'],
    [550, 'psi', 0.1, '7977'],
    [550, 'bar', 1, '550'],
    [548.26, 'bar', 0.01, '548.26'],
    [-0.04, 'bar', 0.1, '0.0'],
    [-0.4, 'bar', 0.1, '−0.4'],
    [550, 'bar', null, '550.0'],
  ] as const)('%f bar in %s at a resolution of %s bar reads %s', (bar, unit, resolution, text) => {
    expect(figure(bar, unit, resolution)).toBe(text);
  });

  it.each([null, undefined, Number.NaN, Number.POSITIVE_INFINITY])('%s is a dash, never 0', (bar) => {
    expect(figure(bar, 'bar', 0.1)).toBe('–');
    expect(pressureText(bar, 'psi', 0.1)).toBe('– psi');
  });

  it('never shows finer than the instrument resolves', () => {
    for (const resolution of [0.01, 0.1, 0.5, 1, 10]) {
      for (const unit of ['bar', 'MPa', 'psi'] as const) {
        const decimals = decimalsOf(unit, resolution);
        if (decimals > 0) expect(10 ** -decimals).toBeGreaterThan(fromBar(resolution, unit) / 10.001);
      }
    }
    expect([decimalsOf('bar', 0.5), decimalsOf('psi', 10), decimalsOf('MPa', 0.01)]).toEqual([1, 0, 3]);
  });

  it.each([
    ['rising, 38 bar below the band', 'MPa', 'rising, 3.8 MPa below the band'],
    ['left if it stays above 530 bar', 'psi', 'left if it stays above 7687 psi'],
    ['the limit is 1.5 bar/min.', 'psi', 'the limit is 22 psi/min.'],
    ['−80.0 bar at 41.2 s', 'MPa', '-8.00 MPa at 41.2 s'],
    ['no bar here, 3 bars there', 'psi', 'no bar here, 3 bars there'],
    ['530 bar', 'bar', '530 bar'],
  ] as const)('%s in %s: %s', (sentence, unit, text) => expect(inUnit(sentence, unit)).toBe(text));
});

describe('the pressure axis', () => {
  const plan = { name: '', testPressure: 550, reach: 544.5, holdFloor: 530, ceiling: 600, minimum: 530, holdTime: 60, cycles: 1 };
  it('holds nothing, ceiling and everything measured', () => {
    for (const highest of [0, 550, 700, Number.NEGATIVE_INFINITY]) {
      const [low, high] = runRange(plan, highest);
      expect(low).toBeLessThan(0);
      expect(high).toBeGreaterThan(Math.max(600, highest));
    }
  });
  it('is never so near that only the last digit fills it', () => {
    const [low, high] = nearRange(549.95, 550.05, 2);
    expect(high - low).toBeGreaterThanOrEqual(2);
    expect(nearRange(Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, 2)).toEqual([0, 10]);
  });
  it('is labelled in round steps of the unit shown', () => {
    expect(pressureTicks([0, 650], 'bar', 4).at).toEqual([0, 200, 400, 600]);
    expect(pressureTicks([0, 650], 'psi', 4).at.map((bar) => Math.round(fromBar(bar, 'psi')))).toEqual([0, 5000]);
    expect(pressureTicks([54.2, 54.9], 'MPa', 5).decimals).toBe(2);
  });
});
