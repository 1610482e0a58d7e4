import { randomFor } from '../../../simulators/random.js';

/** What may happen to one answer or line on its way. */
export const faultKinds = [
  'bytes lost', 'bits flipped', 'split', 'run together', 'late', 'twice', 'wrong id', 'noise', 'cut off and unplugged', 'instrument restarts',
] as const;
export type FaultKind = (typeof faultKinds)[number];

/** Whole numbers from 0 to below `n`. */
export type Dice = (n: number) => number;

export function diceOf(name: string, seed: number): Dice {
  const random = randomFor(name, seed);
  return (n) => random.whole(0, n - 1);
}

export function withoutBytes(frame: Uint8Array, dice: Dice): Uint8Array {
  const left = [...frame];
  for (let n = 1 + dice(3); n > 0 && left.length > 0; n--) left.splice(dice(left.length), 1);
  return Uint8Array.from(left);
}

/** `most` bits at most, within the first `within` bytes. */
export function withFlips(frame: Uint8Array, dice: Dice, most: number, within = frame.length): Uint8Array {
  const flipped = Uint8Array.from(frame);
  const places = new Set<number>();
  for (let n = 1 + dice(most); n > 0; n--) places.add(dice(Math.min(within, frame.length) * 8));
  for (const place of places) flipped[place >> 3] = (flipped[place >> 3] ?? 0) ^ (1 << (place & 7));
  return flipped;
}

export const noise = (dice: Dice): Uint8Array => Uint8Array.from({ length: 1 + dice(20) }, () => dice(256));

/** 2 to 4 pieces. */
export function pieces(frame: Uint8Array, dice: Dice): Uint8Array[] {
  const cuts = [0, ...Array.from({ length: 1 + dice(3) }, () => dice(frame.length + 1)).sort((a, b) => a - b), frame.length];
  return cuts.slice(1).map((end, i) => frame.subarray(cuts[i], end));
}

export const joined = (...parts: readonly Uint8Array[]): Uint8Array => Uint8Array.from(parts.flatMap((part) => [...part]));
