import { describe, expect, it } from 'vitest';
import { holdResiduals, onGrid } from '../../../dashboards/tuning/hold-residuals.js';
import { fft, spectrumOf } from '../../../dashboards/tuning/spectrum.js';
import type { HoldDetail } from '../../../src/core/hold-detail.js';
import { randomFor } from '../../../simulators/random.js';

const noise = (n: number, sigma: number, seed = 1): Float64Array => {
  const random = randomFor('noise', seed);
  return Float64Array.from({ length: n }, () => sigma * random.normal());
};

describe('the Fourier transform', () => {
  it('is the sum of its definition, term by term', () => {
    const n = 32;
    const [x, y] = [noise(n, 1, 2), noise(n, 1, 3)];
    const [re, im] = [x.slice(), y.slice()];
    fft(re, im);
    for (let k = 0; k < n; k++) {
      let [r, m] = [0, 0];
      for (let i = 0; i < n; i++) {
        const angle = (-2 * Math.PI * k * i) / n;
        r += (x[i] as number) * Math.cos(angle) - (y[i] as number) * Math.sin(angle);
        m += (x[i] as number) * Math.sin(angle) + (y[i] as number) * Math.cos(angle);
      }
      expect(re[k]).toBeCloseTo(r, 10);
      expect(im[k]).toBeCloseTo(m, 10);
    }
  });

  // Parseval's theorem, Oppenheim and Schafer, Discrete-Time Signal Processing (1989), 8.6: sum |x|^2 = sum |X|^2 / N.
  it('keeps the energy (Parseval)', () => {
    const x = noise(1024, 2);
    const [re, im] = [x.slice(), new Float64Array(1024)];
    fft(re, im);
    const energy = (values: Float64Array) => values.reduce((sum, value) => sum + value * value, 0);
    expect((energy(re) + energy(im)) / 1024 / energy(x)).toBeCloseTo(1, 12);
  });

  it('refuses a length that is no power of 2', () => expect(() => fft(new Float64Array(12), new Float64Array(12))).toThrow(RangeError));
});

describe('the spectrum of residuals', () => {
  it('sums up to the mean square of the series', () => {
    const x = noise(2048, 0.3);
    const found = spectrumOf(x, 0.01, 'none', 2048);
    const sum = (found?.density.reduce((a, b) => a + b, 0) ?? 0) * (found?.resolution ?? 0);
    expect(sum / (x.reduce((a, b) => a + b * b, 0) / x.length)).toBeCloseTo(1, 12);
  });

  // White noise of variance s^2 at interval dt has the one-sided density 2 s^2 dt at every frequency.
  it('of white noise is flat at 2 sigma^2 dt', () => {
    const found = spectrumOf(noise(65_536, 0.5), 0.02, 'hann', 1024);
    if (found === null) throw new Error('none');
    expect(found.stretches).toBe(127);
    const mean = found.density.slice(2, -2).reduce((a, b) => a + b, 0) / (found.density.length - 4);
    expect(mean / (2 * 0.25 * 0.02)).toBeGreaterThan(0.97);
    expect(mean / (2 * 0.25 * 0.02)).toBeLessThan(1.03);
    expect(found.line).toBeNull();
  });

  it('finds a line of known frequency and amplitude in noise', () => {
    const dt = 0.01;
    const frequency = (128 / 1024) * 100;
    const x = noise(4096, 0.1).map((v, i) => v + 0.25 * Math.sin(2 * Math.PI * frequency * i * dt + 0.7));
    const found = spectrumOf(x, dt, 'hann', 1024);
    expect(found?.line?.frequency).toBeCloseTo(frequency, 9);
    expect(found?.line?.amplitude).toBeGreaterThan(0.24);
    expect(found?.line?.amplitude).toBeLessThan(0.26);
  });

  it('takes seven stretches or more of a usual hold', () => {
    for (const n of [600, 1500, 6000, 60_000]) expect(spectrumOf(noise(n, 1), 0.01)?.stretches).toBeGreaterThanOrEqual(7);
    expect(spectrumOf(noise(100, 1), 0.01)?.stretches).toBe(2);
  });

  it('is none for too few values', () => expect(spectrumOf(noise(15, 1), 0.1)).toBeNull());
});

describe('residuals of a hold', () => {
  const curve = { from: 10, to: 20, level: 500, slope: -0.1, settling: 3, timeConstant: 2, bend: { at: 15, slope: -0.2 } };
  const hold: HoldDetail = { lastPumping: 9, settled: 11, settledBy: 'slope', holdEnd: 20, topUps: [], averages: { time: [12], pressure: [500 - 0.2 + 3 * Math.exp(-1) + 0.5], count: [5] }, curve };
  const time = Float64Array.from({ length: 301 }, (_, i) => i / 10);
  const expected = (t: number) => 500 - 0.1 * (t - 10) - 0.2 * Math.max(0, t - 15) + 3 * Math.exp(-(t - 10) / 2);
  const samples = { time, pressure: time.map((t, i) => expected(t) + (i % 2 === 0 ? 0.1 : -0.1)), flags: new Uint8Array(301) };

  it('are readings less the curve, within it, without flagged ones and glitches', () => {
    samples.flags[120] = 1;
    const found = holdResiduals(samples, hold, [{ kind: 'glitch', at: 13, width: 0.1 }]);
    if (found === null) throw new Error('none');
    expect(found.time.length).toBe(101 - 1 - 3);
    expect(found.rms).toBeCloseTo(0.1, 9);
    expect(found.interval).toBeCloseTo(0.1, 9);
    expect([found.time[0], found.time.at(-1)]).toEqual([10, 20]);
    expect(found.averages.off[0]).toBeCloseTo(0.5, 9);
    expect(onGrid(found).length).toBe(101);
    expect(holdResiduals(samples, { ...hold, curve: null }, [])).toBeNull();
  });

  it('are free of what a stroke lifted, and of the stroke itself', () => {
    const lifted = { ...samples, flags: new Uint8Array(301), pressure: samples.pressure.map((p, i) => (time[i] as number) > 16 ? p + 20 : p) };
    const found = holdResiduals(lifted, { ...hold, topUps: [{ at: 16, rise: 20 }] }, [{ kind: 'top-up', at: 16, height: 20, width: 0.4 }]);
    expect(found?.rms).toBeCloseTo(0.1, 9);
    expect([...(found?.time ?? [])].filter((t) => t > 15.95 && t < 16.85)).toEqual([]);
  });

  it('on the grid are 0 within a gap', () => {
    const found = { time: Float64Array.from([0, 1, 2, 8, 9]), off: Float64Array.from([1, 1, 1, 1, 1]), rms: 1, interval: 1, averages: { time: new Float64Array(), off: new Float64Array() } };
    expect([...onGrid(found)]).toEqual([1, 1, 1, 0, 0, 0, 0, 0, 1, 1]);
  });
});
