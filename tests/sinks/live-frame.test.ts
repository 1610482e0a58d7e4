import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { decodeFrame, encodeFrame, frameCapacity, frameLength } from '../../src/sinks/live-frame.js';

const batch = (first: number, time: number[], pressure: number[], flags: number[] = pressure.map(() => 0)) => ({
  first, time: Float64Array.from(time), pressure: Float64Array.from(pressure), flags: Uint8Array.from(flags),
});

const sample = fc.record({
  step: fc.double({ min: 0, max: 5, noNaN: true }),
  pressure: fc.oneof(fc.double({ min: -10, max: 20_000, noNaN: true }), fc.constant(Number.NaN)),
  flags: fc.integer({ min: 0, max: 255 }),
});
const anyBatch = fc
  .tuple(fc.nat(2 ** 40), fc.double({ min: 0, max: 1e8, noNaN: true }), fc.array(sample, { minLength: 1, maxLength: 200 }))
  .map(([first, begin, samples]) => {
    let t = begin;
    return batch(first, samples.map(({ step }) => (t += step)), samples.map(({ pressure }) => pressure), samples.map(({ flags }) => flags));
  });

describe('samples as bytes', () => {
  it('come back: numbers and flags exactly, times to the microsecond, pressures to single precision (IEEE 754 binary32)', () => {
    fc.assert(
      fc.property(anyBatch, fc.option(fc.double({ min: 0, max: 1e6, noNaN: true })), (sent, age) => {
        const got = decodeFrame(encodeFrame(sent, age));
        expect(got?.first).toBe(sent.first);
        expect(got?.flags).toEqual(sent.flags);
        expect(got?.pressure).toEqual(Float64Array.from(sent.pressure, Math.fround));
        got?.time.forEach((t, i) => expect(Math.abs(t - (sent.time[i] ?? 0))).toBeLessThan(0.51e-6 + Math.abs(t) * Number.EPSILON * 2));
        if (age === null) expect(got?.age).toBeNull();
        else expect(got?.age).toBeCloseTo(Math.min(age, 4294967.294), 2);
      }),
    );
  });

  it('keep a missing value missing: NaN and infinities come back as NaN, never as 0', () => {
    const got = decodeFrame(encodeFrame(batch(0, [0, 1, 2], [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]), 0));
    expect([...(got?.pressure ?? [])]).toEqual([Number.NaN, Number.NaN, Number.NaN]);
  });

  it('have the layout that the comment in the code shows', () => {
    const bytes = encodeFrame(batch(258, [1.5, 1.75], [1, -2], [0, 4]), 0.5);
    expect(Buffer.from(bytes).toString('hex')).toBe(
      '44577301' + '02000000' + '0000000000207040' + '000000000000f83f' + 'f4010000' + '00000000' + '90d00300' + '0000803f' + '000000c0' + '00' + '04',
    );
  });

  it('are cut where a frame is full or would span more than 2000 s', () => {
    const many = Array.from({ length: frameCapacity + 5 }, (_, i) => i / 100);
    expect(frameLength(batch(0, many, many))).toBe(frameCapacity);
    expect(decodeFrame(encodeFrame(batch(0, many, many), null))?.time.length).toBe(frameCapacity);
    expect(frameLength(batch(0, [0, 2000, 2000.5, 2001], [1, 1, 1, 1]))).toBe(2);
  });

  it('read from the middle of a larger buffer as well', () => {
    const inner = encodeFrame(batch(7, [3], [350.5]), 1);
    const outer = new Uint8Array(inner.length + 3);
    outer.set(inner, 3);
    expect(decodeFrame(outer.subarray(3))).toMatchObject({ first: 7, age: 1 });
  });

  it('that are damaged are refused, whatever they are', () => {
    fc.assert(
      fc.property(anyBatch, fc.nat(), (sent, cut) => {
        const bytes = encodeFrame(sent, 0);
        expect(decodeFrame(bytes.slice(0, cut % bytes.length))).toBeNull();
      }),
    );
    fc.assert(fc.property(fc.uint8Array({ maxLength: 64 }), (bytes) => { expect(decodeFrame(bytes)).toBeNull(); }));
    const wrongCount = encodeFrame(batch(0, [0], [1]), 0);
    wrongCount.set([0xff, 0xff, 0xff, 0xff], 4);
    expect(decodeFrame(wrongCount)).toBeNull();
  });
});
