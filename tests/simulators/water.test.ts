import { describe, expect, it } from 'vitest';
import { waterAt } from '../../simulators/water.js';

/** IAPWS-95 (IAPWS R6-95, 2018) at 20 degC: pressure MPa absolute, bulk modulus GPa, expansion 1e-6/K, heating K per 100 MPa, 1 - v/v0 %. */
const iapws95 = [
  [0.101325, 2.17906, 206.81, 1.4516, 0],
  [10, 2.23493, 221.15, 1.5564, 0.44754],
  [40, 2.40742, 261.32, 1.8499, 1.72674],
  [70, 2.5851, 296.33, 2.1043, 2.90141],
  [100, 2.76764, 326.17, 2.3182, 3.9843],
  [140, 3.01697, 358.43, 2.5439, 5.30407],
  [200, 3.3986, 393.04, 2.7739, 7.06118],
] as const;

/** IAPWS-95: adiabatic rise of temperature (K) from atmospheric pressure, by starting temperature and MPa. */
const adiabaticRise = [
  [10, 50, 0.4949],
  [10, 100, 1.3275],
  [20, 20, 0.3119],
  [20, 50, 0.8635],
  [20, 80, 1.5009],
  [20, 100, 1.9666],
  [20, 200, 4.6453],
  [30, 50, 1.1952],
  [30, 100, 2.5521],
] as const;

describe('water', () => {
  const water = waterAt(20);
  const gauge = (mpa: number) => (mpa - 0.101325) * 10;

  it.each(iapws95)('at %f MPa and 20 degC is as stiff and expands as IAPWS-95 says', (mpa, modulus, expansion, heating, squeezed) => {
    const p = gauge(mpa);
    expect(Math.abs(1 / (water.compressibility(p) * 1e4) / modulus - 1)).toBeLessThan(0.001);
    expect(Math.abs((water.expansion(p) * 1e6) / expansion - 1)).toBeLessThan(0.002);
    expect(Math.abs((water.adiabaticHeating(p) * 1000) / heating - 1)).toBeLessThan(0.005);
    expect((1 - 1 / water.relativeDensity(p)) * 100).toBeCloseTo(squeezed, 2);
  });

  it.each(adiabaticRise)('from %f degC to %f MPa warms adiabatically as IAPWS-95 says', (start, mpa, rise) => {
    let warmer = 0;
    for (let p = 0; p < gauge(mpa); p += 1) warmer += waterAt(start + warmer).adiabaticHeating(p);
    expect(Math.abs(warmer / rise - 1)).toBeLessThan(0.03);
  });

  it('is as compressible at other temperatures as IAPWS-95 says at atmospheric pressure (1/GPa: 10 degC 0.47808, 40 degC 0.44238)', () => {
    expect(Math.abs((waterAt(10).compressibility(0) * 1e4) / 0.47808 - 1)).toBeLessThan(0.001);
    expect(Math.abs((waterAt(40).compressibility(0) * 1e4) / 0.44238 - 1)).toBeLessThan(0.001);
  });
});
