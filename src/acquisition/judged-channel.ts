import type { Plan } from '../core/plan.js';
import type { Channel } from './channel-config.js';

/** Room above the highest pressure that a plan speaks of: what goes over a ceiling must still be measured. */
const margin = 0.02;

/** The pressure channels that see what the assemblies see, the narrowest first. */
export const onManifold = (channels: readonly Channel[]): Channel[] =>
  channels.filter(({ place }) => place === 'manifold').toSorted((a, b) => a.range.upper - b.range.upper);

/** bar: the highest pressure that a plan needs to see, with some room above it. */
export const neededRange = ({ testPressure, ceilingPressure }: Plan): number => Math.max(testPressure, ceilingPressure ?? 0) * (1 + margin);

/**
 * The channel that a run is judged by: the narrowest one whose range covers test pressure and ceiling with some room,
 * because its readings are the finest. The widest one where none does, or where there is no plan.
 * @returns `undefined` only where no channel is on the manifold
 */
export function judgedChannel(channels: readonly Channel[], plan: Plan | null): Channel | undefined {
  const all = onManifold(channels);
  return (plan === null ? undefined : all.find(({ range }) => range.upper >= neededRange(plan))) ?? all.at(-1);
}
