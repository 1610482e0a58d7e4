import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Received } from '../../drivers/driver.js';
import { listen } from './listen.js';

const bytes = (text: string) => Buffer.from(text, 'latin1');
const withoutTime = (items: readonly Received[]) => items.map((item) => ({ ...item, time: 0 }));

/** Cuts bytes at the given places. */
function cut(all: Buffer, at: readonly number[]): Buffer[] {
  const places = [0, ...[...new Set(at.map((n) => n % (all.length + 1)))].sort((a, b) => a - b), all.length];
  return places.slice(1).map((end, i) => all.subarray(places[i], end));
}

const number = fc.integer({ min: -99_999, max: 99_999 }).map((n) => (n / 100).toFixed(2));
const anyLine = fc.oneof(
  { weight: 4, arbitrary: number.map((n) => `${n} bar`) },
  fc.constantFrom('+OL', '----', 'P1= 550.2', '>+12.345', '350.2350.3', ''),
  fc.string({ unit: 'binary-ascii', maxLength: 20 }),
  fc.uint8Array({ maxLength: 20 }).map((raw) => Buffer.from(raw).toString('latin1')),
);
const anyStream = fc.array(fc.tuple(anyLine, fc.constantFrom('\r', '\n', '\r\n', '\n\r'))).map((lines) => bytes(lines.map(([line, end]) => line + end).join('')));

describe('lines', () => {
  it('do not depend on how the port cuts the bytes', () => {
    fc.assert(
      fc.property(anyStream, fc.array(fc.nat()), fc.constantFrom(undefined, '\n', '\r\n', ';'), (stream, places, delimiter) => {
        const input = { maximumLineLength: 16, ...(delimiter !== undefined && { delimiter }) };
        const whole = listen(input);
        whole.wiring.receive(stream);
        const pieces = listen(input);
        for (const piece of cut(stream, places)) pieces.wiring.receive(piece);
        expect(withoutTime(pieces.items)).toEqual(withoutTime(whole.items));
      }),
      { numRuns: 500 },
    );
  });

  it('any bytes whatever throw nothing, and never give a number that is not finite', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), (stream) => {
        const link = listen();
        link.wiring.receive(stream);
        link.clock.pass(10);
        expect(link.error()).toBeUndefined();
        expect(link.values().every((value) => Number.isFinite(value))).toBe(true);
      }),
      { numRuns: 500 },
    );
  });

  it('nothing that came is lost: every line is a reading, a fault or dropped with its reason', () => {
    fc.assert(
      fc.property(fc.array(fc.oneof(number, fc.constantFrom('OL', 'garbage', 'x'))), (lines) => {
        const link = listen({ firstLine: 'drop' });
        link.lines(...lines);
        expect(link.values().length + link.faults().length + link.dropped().length).toBe(lines.length);
      }),
    );
  });
});

/** What the noise of a line does to bytes; each must keep the digits of a number from becoming other digits unseen. */
type Damage = (line: Buffer, random: () => number) => Buffer;
const damages: Readonly<Record<string, Damage>> = {
  'a top bit set': (line, random) => alter(line, random, (byte) => byte | 0x80),
  'a NUL in place of a byte': (line, random) => alter(line, random, () => 0),
  'a control byte in place of a byte': (line, random) => alter(line, random, () => 1 + Math.floor(random() * 8)),
};
function alter(line: Buffer, random: () => number, change: (byte: number) => number): Buffer {
  const changed = Buffer.from(line);
  const place = Math.floor(random() * line.length);
  changed[place] = change(line[place] ?? 0);
  return changed;
}

/** A small linear congruential generator (Numerical Recipes' constants), so that every run is the same. */
function seeded(seed: number): () => number {
  let state = seed >>> 0;
  return () => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 2 ** 32;
}

describe('random corruption', () => {
  it.each(Object.keys(damages))('%s is never a reading', (name) => {
    const random = seeded(7);
    const link = listen();
    for (let i = 0; i < 2000; i++) {
      const line = bytes(`+${(random() * 700).toFixed(2).padStart(7, '0')} bar`);
      link.wiring.receive(Buffer.concat([(damages[name] as Damage)(line, random), bytes('\r\n')]));
    }
    expect(link.values()).toEqual([]);
    expect(link.faults()).toEqual(Array<string>(2000).fill('damaged'));
  });

  it('a line cut anywhere by a lost stretch of bytes is refused where the line length is fixed', () => {
    const random = seeded(11);
    const link = listen({ lineLength: 12 });
    let intact = 0;
    for (let i = 0; i < 2000; i++) {
      const line = `+${(random() * 700).toFixed(2).padStart(7, '0')} bar`;
      const from = Math.floor(random() * line.length);
      const length = Math.floor(random() * 5);
      if (length === 0) intact += 1;
      link.lines(line.slice(0, from) + line.slice(from + length));
      if (length > 0 && from + length > line.length && from === line.length) intact += 1;
    }
    expect(link.values()).toHaveLength(intact);
  });

  it('two lines that lost the end between them are never a reading', () => {
    const random = seeded(13);
    for (const input of [{}, { column: 1, columns: 2 }, { pattern: '(?<value>[-+\\d.]+)(?:;(?<unit>bar))?' }]) {
      const link = listen(input);
      for (let i = 0; i < 500; i++) {
        const tail = 'column' in input ? ';bar' : '';
        link.lines(`${(random() * 700).toFixed(1)}${tail}${(random() * 700).toFixed(1)}${tail}`);
      }
      expect(link.values()).toEqual([]);
      expect(link.faults()).toEqual(Array<string>(500).fill('malformed'));
    }
  });

  /**
   * One flipped bit in `+0550.20 bar` where it hurts most. A bit error that turns one digit into another cannot be seen on
   * a line without parity or checksum: this says how many pass, so that nobody believes in a promise that no reader can keep.
   */
  it('a single flipped bit: counted exhaustively, and seen wherever the line carries a checksum', () => {
    const exhaust = (line: string, input: Readonly<Record<string, unknown>>) => {
      const counts = { flips: 0, refused: 0, same: 0, wrong: 0, implausible: 0 };
      for (let place = 0; place < line.length; place++) {
        for (let bit = 0; bit < 8; bit++) {
          const flipped = bytes(line);
          flipped[place] = (flipped[place] ?? 0) ^ (1 << bit);
          const link = listen(input);
          link.wiring.receive(Buffer.concat([flipped, bytes('\r\n')]));
          counts.flips += 1;
          const [value] = link.values();
          if (value === undefined) counts.refused += 1;
          else if (value === 550.2) counts.same += 1;
          else if (Math.abs(value) > 1.5 * 600 || value < -16) counts.implausible += 1;
          else counts.wrong += 1;
        }
      }
      return counts;
    };
    const plain = exhaust('+0550.20 bar', {});
    expect(plain.flips).toBe(96);
    // Same value: b, a, r in capitals; '+' as a prompt; a blank for a 0 at either end, and a 0 for the blank.
    expect(plain).toEqual({ flips: 96, refused: 68, same: 7, implausible: 4, wrong: 17 });
    let xor = 0;
    for (const byte of bytes('+0550.20 bar')) xor ^= byte;
    const summed = exhaust(`$+0550.20 bar*${xor.toString(16).padStart(2, '0').toUpperCase()}`, { checksum: 'xor' });
    expect(summed.wrong + summed.implausible).toBe(0);
  });
});
