import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { DamagedBlock, decodeBlock, encodeBlock, type Samples } from '../../src/records/block-codec.js';

const samplesOf = (time: number[], pressure: number[], raw: number[] | null = null, flags?: number[]): Samples => ({
  time: Float64Array.from(time),
  pressure: Float64Array.from(pressure),
  flags: Uint8Array.from(flags ?? time.map(() => 0)),
  raw: raw && Float64Array.from(raw),
});

/** `Object.is` for each element: tells -0 from 0, takes NaN for NaN. */
function expectSame(found: Samples, given: Samples): void {
  for (const column of ['time', 'pressure', 'flags', 'raw'] as const) {
    const [f, g] = [found[column], given[column]];
    expect(f === null).toBe(g === null);
    expect(f?.length).toBe(g?.length);
    for (let i = 0; i < (g?.length ?? 0); i++) {
      if (!Object.is(f?.[i], g?.[i])) expect.fail(`${column}[${i}] is ${f?.[i]}, was ${g?.[i]}`);
    }
  }
}

const anyDouble = fc.oneof(
  fc.double(),
  fc.constantFrom(0, -0, NaN, Infinity, -Infinity, Number.MIN_VALUE, -5e-324, Number.MAX_VALUE, 2.2250738585072014e-308, 9.99999999e37),
);
/** What instruments send: decimal steps, 4-byte floats, binary steps, multiples of a step; now and then anything. */
const reading = fc.oneof(
  { weight: 20, arbitrary: fc.tuple(fc.integer({ min: -2_000_000, max: 2_000_000 }), fc.constantFrom(1, 10, 100, 1000)).map(([k, s]) => k / s) },
  { weight: 5, arbitrary: fc.integer({ min: -200_000, max: 200_000 }).map((k) => Math.fround(k / 100)) },
  { weight: 5, arbitrary: fc.integer({ min: -200_000, max: 200_000 }).map((k) => k * 0.05) },
  { weight: 5, arbitrary: fc.integer({ min: -200_000, max: 200_000 }).map((k) => k / 1024) },
  { weight: 1, arbitrary: anyDouble },
);
const uniform = fc.constantFrom<(k: number) => number>((k) => k / 100, (k) => k * 0.1, (k) => Math.fround(k / 10), (k) => k / 4096, (k) => k * 5);
const row = fc.tuple(anyDouble, reading, reading, fc.nat(255));

describe('a block of samples', () => {
  it('gives back any doubles bit by bit', () => {
    fc.assert(
      fc.property(fc.array(row, { maxLength: 400 }), fc.boolean(), (rows, withRaw) => {
        const given = samplesOf(
          rows.map((r) => r[0]),
          rows.map((r) => r[1]),
          withRaw ? rows.map((r) => r[2]) : null,
          rows.map((r) => r[3]),
        );
        expectSame(decodeBlock(encodeBlock(given)), given);
      }),
      { numRuns: 400 },
    );
  });

  it('gives back readings of one instrument on a jittery grid', () => {
    const step = fc.integer({ min: -40, max: 40 });
    const rows = fc.array(fc.tuple(step, fc.integer({ min: -3000, max: 3000 }), fc.constantFrom(0, 0, 0, 0, 1, 16)), { minLength: 1, maxLength: 700 });
    fc.assert(
      fc.property(rows, uniform, fc.nat(1e9), fc.boolean(), (list, convert, start, calibrated) => {
        let k = 55_000;
        const raw = list.map(([d, , flag]) => (flag === 1 ? NaN : convert((k += d))));
        const time = list.map(([, jitter], i) => (start * 1e6 + i * 10_000 + jitter) / 1e6);
        const pressure = calibrated ? raw.map((r) => r * 1.00037 - 0.21) : raw;
        const given = samplesOf(time, pressure, raw, list.map((l) => l[2]));
        expectSame(decodeBlock(encodeBlock(given)), given);
      }),
      { numRuns: 300 },
    );
  });

  it('tells the pressures of equal raw readings apart when they differ', () => {
    const given = samplesOf([...Array(300).keys()], Array.from({ length: 300 }, (_, i) => (i === 250 ? 7.25 : 7.3)), Array<number>(300).fill(12.5));
    expectSame(decodeBlock(encodeBlock(given)), given);
  });

  it('gives back times that step back, stand still or are an hour apart', () => {
    const given = samplesOf([5, 5, 4.99, 3605.000001, 3605.01, 1e9, -2, 2 ** 52], [1, 2, 3, 4, 5, 6, 7, 8]);
    expectSame(decodeBlock(encodeBlock(given)), given);
  });

  it('takes less than 0.6 byte a sample for 0.01 bar steps with 0.02 bar of noise on a 100 Hz grid', () => {
    const n = 60_000;
    let seed = 1;
    const uniformRandom = () => (seed = (seed * 48_271) % 2_147_483_647) / 2_147_483_647; // Park and Miller (1988), minimal standard generator
    const noise = () => Math.sqrt(-2 * Math.log(uniformRandom())) * Math.cos(2 * Math.PI * uniformRandom()) * 0.02; // Box and Muller (1958)
    const time = Array.from({ length: n }, (_, i) => 86_400 + i / 100);
    const pressure = time.map((t) => Math.round((550 - (t - 86_400) * 0.002 + noise()) * 100) / 100);
    expect(encodeBlock(samplesOf(time, pressure)).length / n).toBeLessThan(0.6);
  });

  it('refuses a block in which any one byte has changed', () => {
    const block = encodeBlock(samplesOf([0, 0.01, 0.02, 0.03, 0.05], [1, 1.01, NaN, 1.02, -0], [4, 4.1, NaN, 4.2, 4.3], [0, 0, 1, 0, 0]));
    for (let at = 0; at < block.length; at++) {
      for (const bits of [1, 128, 255]) {
        const changed = block.slice();
        changed[at]! ^= bits;
        expect(() => decodeBlock(changed), `byte ${at}`).toThrow(DamagedBlock);
      }
    }
  });

  it('refuses a block that is cut short anywhere', () => {
    const block = encodeBlock(samplesOf([0, 0.01, 0.02], [1, 1.01, 1.02]));
    for (let length = 0; length < block.length; length++) expect(() => decodeBlock(block.subarray(0, length))).toThrow(DamagedBlock);
  });
});
