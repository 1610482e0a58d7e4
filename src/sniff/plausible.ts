import { barPer, pressureUnitOf } from '../core/units.js';
import type { SignalUnit } from '../../drivers/signal-unit.js';

/** bar that any reading may leap by, for noise. */
const noise = 2;
/** Share of itself that a reading must move by to be alive; less is what stands behind its last digit. */
const still = 2e-5;

/** What a person says of the pressure. Pressures in bar. */
export interface Wanted {
  readonly range?: { readonly lower: number; readonly upper: number };
  /** What the needle shows now. */
  readonly expect?: number;
  /** What the instrument sends, where it is known. */
  readonly unit?: SignalUnit;
}

/** How likely numbers are a pressure, and in words why. */
export interface Plausibility {
  /** 0 (cannot be) to 1. */
  readonly score: number;
  readonly says: string;
}

/** bar. Ranges that transducers of proof-test benches commonly have (common practice). */
const commonRanges: readonly number[] = [10, 16, 25, 40, 60, 100, 160, 250, 400, 600, 1000, 1600, 2500, 4000];
/** bar, the range that is assumed where nobody says one. */
export const assumedRange = 1000;
/** bar. A float below this is not zero of a gauge but bytes in another order. */
const dust = 1e-5;
/** bar. Below this a float may be zero of a gauge, and is less likely to be. */
const faint = 0.02;

/** bar, the upper end to write down: what was told, else the usual one, or the next that holds what was read. */
export const upperOf = (wanted: Wanted, largest: number): number =>
  wanted.range?.upper ?? commonRanges.find((range) => range >= Math.max(assumedRange, largest)) ?? 4000;

/** bar for one reading; `null` where the unit alone says no pressure. 4 to 20 mA stand for the range. */
export function barOf(reading: number, unit: SignalUnit, wanted: Wanted): number | null {
  const pressure = pressureUnitOf(unit);
  if (pressure !== undefined) return reading * barPer(pressure);
  if (unit !== 'mA') return null;
  const { lower, upper } = wanted.range ?? { lower: 0, upper: assumedRange };
  return lower + ((reading - 4) / 16) * (upper - lower);
}

/** Units to think of where the instrument names none. */
export const unitsToTry = (wanted: Wanted): readonly SignalUnit[] => (wanted.unit !== undefined ? [wanted.unit] : wanted.expect === undefined ? ['bar', 'psi'] : ['bar', 'psi', 'MPa', 'kPa']);

/**
 * Judges readings that follow each other, in bar: finite, in range, smooth, near what the needle shows or near zero, and
 * alive. `step` is the smallest step of the reading, bar.
 */
export function plausibility(readings: readonly number[], wanted: Wanted, step = 0): Plausibility {
  const [first] = readings;
  if (first === undefined || !readings.every((reading) => Number.isFinite(reading))) return { score: 0, says: 'not a number' };
  const { lower, upper } = wanted.range ?? { lower: 0, upper: 4000 };
  const low = Math.min(...readings);
  const high = Math.max(...readings);
  const span = upper - lower;
  if (low < Math.min(0, lower) - 0.025 * span || high > upper * 1.05) return { score: 0, says: 'outside the range' };
  if (high !== 0 && Math.max(Math.abs(low), Math.abs(high)) < dust) return { score: 0, says: 'far too small for a pressure' };
  const mean = readings.reduce((sum, reading) => sum + reading, 0) / readings.length;
  const jump = readings.reduce((most, reading, i) => Math.max(most, i === 0 ? 0 : Math.abs(reading - (readings[i - 1] ?? reading))), 0);
  // A pump raises the pressure fast and evenly; bytes in a wrong order leap to and fro.
  const leap = readings.slice(2).reduce((most, reading, i) => Math.max(most, Math.abs(reading - 2 * (readings[i + 1] ?? reading) + (readings[i] ?? reading))), 0);
  const smooth = 1 / (1 + (leap / (noise + 0.15 * Math.abs(mean))) ** 2);
  const moves = high - low > still * Math.max(Math.abs(low), Math.abs(high));
  const alive = moves ? 1 : high === 0 && low === 0 ? 0.2 : 0.6;
  const said = [moves ? `moves by up to ${digits(jump)} bar between readings` : high === 0 ? 'is always 0, which says nothing' : 'does not move'];
  if (wanted.expect === undefined) {
    // People mostly look while the bench is vented.
    const zero = 0.002 * Math.min(span, assumedRange);
    const vented = high - low <= zero / 2 ? 1 / (1 + (mean / zero) ** 2) : 0;
    said.unshift(vented > 0.2 ? 'near zero, as on a vented bench' : 'in range');
    const weak = high !== 0 && Math.max(Math.abs(low), Math.abs(high)) < faint ? 0.6 : 1;
    return { score: smooth * alive * weak * (0.85 + 0.15 * vented), says: said.join(', ') };
  }
  const away = Math.abs(mean - wanted.expect);
  const reading = 0.002 * Math.min(span, assumedRange);
  const tolerance = Math.max(0.01 * Math.abs(wanted.expect), wanted.expect === 0 ? reading : Math.min(reading, 0.1 * Math.abs(wanted.expect)), step);
  if (away > 5 * tolerance) return { score: 0, says: `${digits(away)} bar away from what the needle shows` };
  said.unshift(`${digits(away)} bar from what the needle shows`);
  // Where a person names the pressure, a still reading is no doubt: it may be a very steady one.
  return { score: (smooth * (alive === 1 ? 1 : 0.9)) / (1 + (away / tolerance) ** 2), says: said.join(', ') };
}

export const digits = (value: number): string => String(Number(value.toPrecision(4)));
