import type { CycleRecord } from '../reading/cycle-record.js';

/** bar, one standard atmosphere (exact): the pressure of air before the rise. */
const atmosphere = 1.01325;
/**
 * bar; stiffness of water and hose together that the air share is reckoned with. Water alone has 22 000 bar (IAPWS-95,
 * 20 degC); a wire-braid hose widens about as much as its water is compressed (common practice), so half of it.
 */
const stiffness = 11_000;
/** Fewest strokes that say something. */
const fewest = 6;

export interface TrappedAir {
  /** Air at atmospheric pressure as a share of the volume; an estimate that is good to a factor of two. */
  readonly share: number;
}

/**
 * Trapped air from the strokes of a rise: each brings the same volume, which goes into stiffness (x per bar) and into
 * squeezing air by Boyle's law (y per change of p0/p): x (p2 - p1) + y (p0/p1 - p0/p2) = 1, absolute pressures. Air makes
 * the first strokes lift less than the later ones. `null` where it cannot be told or there is none worth telling.
 */
export function trappedAir(cycle: CycleRecord, testPressure: number): TrappedAir | null {
  let n = 0, aa = 0, ab = 0, bb = 0, a1 = 0, b1 = 0;
  for (let i = 0; i < cycle.strokeRise.length; i++) {
    const from = (cycle.strokeFrom[i] as number) + atmosphere;
    const to = from + (cycle.strokeRise[i] as number);
    // Near stall a stroke brings less; below a tenth of a bar absolute the zero's own error rules.
    if (to > 0.6 * testPressure || from < 0.1) continue;
    const a = to - from;
    const b = atmosphere / from - atmosphere / to;
    n++;
    aa += a * a;
    ab += a * b;
    bb += b * b;
    a1 += a;
    b1 += b;
  }
  const d = aa * bb - ab * ab;
  if (n < fewest || !(d > 1e-12 * aa * bb)) return null;
  const x = (a1 * bb - b1 * ab) / d;
  const y = (aa * b1 - ab * a1) / d;
  if (!(x > 0) || !(y > 0)) return null;
  const variance = Math.max(0, n - a1 * x - b1 * y) / (n - 2);
  const error = Math.sqrt((variance * aa) / d);
  const share = y / x / stiffness;
  return y > 4 * error && share > 0.015 ? { share } : null;
}
