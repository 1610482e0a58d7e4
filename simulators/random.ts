/**
 * Seeded randomness: the same name and seed give the same numbers on every machine.
 * Generator: sfc32 (small fast counting, C. Doty-Humphrey, PractRand), 128 bits of state; seeded by FNV-1a of the name
 * and mixed before use. Normal numbers: Box and Muller (1958).
 */
export interface Random {
  /** Uniform in [0, 1). */
  readonly uniform: () => number;
  /** Uniform in [from, to). */
  readonly between: (from: number, to: number) => number;
  /** A whole number from `from` to `to`, both included. */
  readonly whole: (from: number, to: number) => number;
  /** Standard normal. */
  readonly normal: () => number;
  /** One of a list that is not empty. */
  readonly pick: <T>(list: readonly [T, ...T[]]) => T;
  readonly chance: (probability: number) => boolean;
  /** An independent stream, so that one part may draw more numbers without moving another part's. */
  readonly fork: (name: string) => Random;
}

/** FNV-1a, 32 bits. */
function hash(text: string, start: number): number {
  let h = start >>> 0;
  for (let i = 0; i < text.length; i++) {
    h ^= text.charCodeAt(i);
    h = Math.imul(h, 0x01000193);
  }
  return h >>> 0;
}

/** A stream of numbers that belongs to this name and seed. */
export function randomFor(name: string, seed: number): Random {
  const text = `${name}#${seed}`;
  let a = hash(text, 0x811c9dc5);
  let b = hash(text, 0x9e3779b9);
  let c = hash(text, 0x85ebca6b);
  let counter = 1;
  let spare = Number.NaN;

  const uniform = (): number => {
    const t = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (c << 21) | (c >>> 11);
    c = (c + t) | 0;
    return (t >>> 0) / 4294967296;
  };
  for (let i = 0; i < 15; i++) uniform();

  const normal = (): number => {
    if (!Number.isNaN(spare)) {
      const value = spare;
      spare = Number.NaN;
      return value;
    }
    const radius = Math.sqrt(-2 * Math.log(1 - uniform()));
    const angle = 2 * Math.PI * uniform();
    spare = radius * Math.sin(angle);
    return radius * Math.cos(angle);
  };

  return {
    uniform,
    normal,
    between: (from, to) => from + (to - from) * uniform(),
    whole: (from, to) => from + Math.floor((to - from + 1) * uniform()),
    pick: (list) => list[Math.floor(uniform() * list.length)] ?? list[0],
    chance: (probability) => uniform() < probability,
    fork: (part) => randomFor(`${text}/${part}`, seed),
  };
}
