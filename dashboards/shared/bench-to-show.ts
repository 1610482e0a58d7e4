import { pressureUnitOf, type PressureUnit } from '../../src/core/units.js';

/** The bench to show and its unit; the first one where the address names none. */
export async function benchToShow(asked: string | null): Promise<{ readonly name: string; readonly unit: PressureUnit } | null> {
  const answer = await fetch('/api/benches');
  const benches = answer.ok ? ((await answer.json()) as readonly { readonly name: string; readonly unit: string }[]) : [];
  const found = benches.find(({ name }) => name === asked) ?? benches[0];
  return found === undefined ? null : { name: found.name, unit: pressureUnitOf(found.unit) ?? 'bar' };
}
