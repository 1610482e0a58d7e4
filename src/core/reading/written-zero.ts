/**
 * Zeros that somebody writes for readings that were lost: a controller whose cable is off, a gateway that times out. The
 * number is exactly 0, again and again, while this transducer's own vented reading is never so exact, and it comes and
 * goes from one reading to the next. A burst looks like that, too, until the pressure is back: so such readings are held
 * back until it is known what they were.
 */

/** s after which readings of exactly 0 are taken for what they say. */
const longest = 10;
/** Share of the pressure before that comes back at once where it was never gone. */
const back = 0.5;
/** Steps of the reading that its noise has to reach: a coarse quiet gauge does show exactly 0, reading after reading. */
const lively = 0.4;

/** Steps by which the vented reading has to lie off 0 to say that 0 is none of its own. */
const offZero = 1.5;

/** A reading as it came: s, bar, `Flag` bits. */
export interface HeldReading {
  readonly time: number;
  readonly pressure: number;
  readonly flags: number;
}

export interface WrittenZeroState {
  held: HeldReading[];
  /** bar, the last reading that was not exactly 0; NaN before the first. */
  last: number;
  /** Zeros are let through until another reading comes. */
  believed: boolean;
}

export const freshWrittenZero = (): WrittenZeroState => ({ held: [], last: NaN, believed: false });

/** What is known of the gauge: all in bar. */
export interface ZeroKnowledge {
  /** From this pressure on a fall to nothing is more than a vent that goes on. */
  readonly high: number;
  /** Noise from reading to reading, and the smallest step. */
  readonly moving: number;
  readonly resolution: number;
  /** The vented reading; NaN where none was seen. */
  readonly vented: number;
}

/** What to do with the reading, and with those that were held back before it. */
export type ZeroAnswer = 'pass' | 'hold' | 'let-all-pass' | 'drop-held';

/** Takes a good reading. The caller clears `held` once it has dealt with what was held back. */
export function stepWrittenZero(s: WrittenZeroState, known: ZeroKnowledge, reading: HeldReading): ZeroAnswer {
  const { pressure, time } = reading;
  const first = s.held[0];
  if (pressure === 0) {
    if (s.believed || (first === undefined && !suspicious(s.last, known))) return 'pass';
    if (first !== undefined && time - first.time > longest) {
      s.believed = true;
      return 'let-all-pass';
    }
    s.held.push(reading);
    return 'hold';
  }
  const before = s.last;
  s.believed = false;
  s.last = pressure;
  if (first === undefined) return 'pass';
  return pressure >= back * before ? 'drop-held' : 'let-all-pass';
}

function suspicious(before: number, { high, moving, resolution, vented }: ZeroKnowledge): boolean {
  if (!(before >= high)) return false;
  const elsewhere = Math.abs(vented) >= offZero * resolution && vented !== 0;
  return elsewhere || (vented !== 0 && moving > 0 && moving >= lively * resolution);
}
