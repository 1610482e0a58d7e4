import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { convert, type Conversion } from '../../src/core/conversion.js';
import { decodeBlock, encodeBlock, type Samples } from '../../src/records/block-codec.js';
import { openStore } from '../../src/records/store.js';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const calibrated: Conversion = { unit: 'bar', scaling: null, coefficients: { constant: 0.3, linear: 1.0004, quadratic: -2e-7 } };
const current: Conversion = { unit: 'mA', scaling: { lower: { reading: 4, pressure: 0 }, upper: { reading: 20, pressure: 600 } }, coefficients: null };
/** Readings of four bytes and many digits, as a Modbus transmitter sends them. */
const float = (i: number) => Math.fround(450 + 0.1 * Math.sin(i * 12.9898) * 43.758);

function samples(conversion: Conversion, count: number, pressure = (raw: number) => convert(conversion, raw), raw = float): Samples {
  const raws = Float64Array.from({ length: count }, (_, i) => raw(i));
  return { time: Float64Array.from({ length: count }, (_, i) => i / 100), pressure: raws.map(pressure), flags: new Uint8Array(count), raw: raws, conversion };
}
const same = (a: Samples, b: Samples) => (['time', 'pressure', 'flags', 'raw'] as const).every((column) => a[column]?.every((value, i) => Object.is(value, b[column]?.[i])));

describe('pressures that follow from their readings', () => {
  it.each([
    ['calibrated', calibrated, float],
    ['current', current, (i: number) => Math.fround(12 + 0.01 * Math.sin(i))],
    ['psi', { unit: 'psi', scaling: null, coefficients: null }, float],
  ] as const)('come back bit by bit, with their conversion: %s', (_name, conversion, raw) => {
    const given = samples(conversion, 500, (value) => convert(conversion, value), raw);
    const back = decodeBlock(encodeBlock(given));
    expect(same(given, back)).toBe(true);
    expect(back.conversion === undefined || convert(back.conversion, 7.25) === convert(conversion, 7.25)).toBe(true);
  });

  it('take no room of their own, however many digits they have', () => {
    const given = samples(calibrated, 6000);
    const rawAlone = encodeBlock({ ...given, pressure: given.raw ?? new Float64Array(0) }).length;
    expect(encodeBlock(given).length).toBeLessThan(rawAlone + 60);
    const { time, pressure, flags, raw } = given;
    expect(encodeBlock({ time, pressure, flags, raw }).length).toBeGreaterThan(rawAlone * 2);
  });

  it('those that do not follow, such as of flagged readings, come back as they are', () => {
    fc.assert(
      fc.property(fc.array(fc.nat(299), { maxLength: 30 }), fc.constantFrom(NaN, 0, -0, 1e300), (places, stray) => {
        const given = samples(calibrated, 300);
        for (const place of places) given.pressure[place] = stray;
        expect(same(given, decodeBlock(encodeBlock(given)))).toBe(true);
      }),
    );
  });

  it('a conversion that is not the one does no harm', () => {
    const given = { ...samples(current, 300), conversion: calibrated };
    const back = decodeBlock(encodeBlock(given));
    expect(same(given, back)).toBe(true);
    expect(back.conversion).toBeUndefined();
  });

  it('stay small when the blocks of a store are merged, and two calibrations are kept apart', () => {
    const folder = mkdtempSync(join(tmpdir(), 'conversion-'));
    const { store } = openStore(join(folder, 'records.sqlite'), { software: 'test' });
    try {
      const channel = store.channel('bench', 'pressure', 'bar').id;
      const recalibrated: Conversion = { ...calibrated, coefficients: { constant: 0.5, linear: 1, quadratic: 0 } };
      let from = 1;
      for (const conversion of [calibrated, recalibrated]) {
        const writer = store.beginSegment(channel, { time: from, wall: Date.UTC(2027, 0, 1) + from * 1000 }, conversion);
        for (let i = 0; i < 9000; i++) {
          const time = from + i / 100;
          writer.append(time, convert(conversion, float(i)), 0, float(i));
          if (i % 100 === 0) store.tick(time);
        }
        from += 100;
      }
      store.flush();
      store.compact();
      const { pressure, raw } = store.traceWindow(channel, -Infinity, Infinity);
      expect(pressure).toHaveLength(18_000);
      pressure.forEach((value, i) => expect(Object.is(value, convert(i < 9000 ? calibrated : recalibrated, raw?.[i] ?? NaN))).toBe(true));
      const bytes = store.db.prepare<[], number>('SELECT sum(length(samples)) FROM contents').pluck().get() ?? Infinity;
      expect(bytes / 18_000).toBeLessThan(4.5);
    } finally {
      store.close();
      rmSync(folder, { recursive: true, force: true });
    }
  });
});
