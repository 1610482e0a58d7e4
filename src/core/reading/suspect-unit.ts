import { barPer, type PressureUnit } from '../units.js';

/** Units that benches really have, by how often they are mistaken for bar. */
const candidates: readonly PressureUnit[] = ['MPa', 'psi', 'kPa'];

/**
 * The unit in which a level that was read as bar would fit the test pressure, where it does not fit as bar; `null`
 * where it fits, or fits nothing. `level` is the settled or highest pressure of a run.
 */
export function suspectUnit(level: number, testPressure: number): PressureUnit | null {
  if (level > 0.5 * testPressure && level < 2 * testPressure) return null;
  for (const unit of candidates) {
    const ratio = (level * barPer(unit)) / testPressure;
    if (ratio > 0.94 && ratio < 1.12) return unit;
  }
  return null;
}
