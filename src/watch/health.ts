import type { BenchState } from './bench-state.js';

/** Whether the bench is watched as it should be, and if not, why. */
export interface Health {
  readonly healthy: boolean;
  /** One sentence each; empty when all is well. */
  readonly reasons: readonly string[];
  readonly benches: readonly {
    readonly bench: string;
    readonly recording: boolean;
    readonly channels: readonly { readonly channel: string; readonly link: string; readonly age_s: number | null }[];
  }[];
  /** s that the program's own beat is late. */
  readonly late_s: number;
}

/** s: a program whose beat is so late is not doing its work. */
const tooLate = 2;

/**
 * Judges health from facts alone: readings come on every channel, they are written, and the program is not stuck. A bench
 * that stands vented is healthy; one without readings is not, whatever the reason.
 */
export function healthOf(benches: readonly BenchState[], late: number): Health {
  const reasons = benches.flatMap(({ bench, channels, recording }) => [
    ...channels.flatMap(({ channel, age, silentAfter, state }) => {
      if (age !== null && age <= silentAfter) return [];
      const since = age === null ? 'no reading yet' : `no reading for ${age.toFixed(1)} s`;
      return [`${bench}, ${channel}: ${since} (link ${state})`];
    }),
    ...(recording ? [] : [`${bench}: readings are not being written to the store`]),
  ]);
  if (late > tooLate) reasons.push(`the program has been too busy for ${late.toFixed(1)} s`);
  return {
    healthy: reasons.length === 0,
    reasons,
    benches: benches.map(({ bench, recording, channels }) => ({
      bench, recording, channels: channels.map(({ channel, state, age }) => ({ channel, link: state, age_s: age === null ? null : Number(age.toFixed(3)) })),
    })),
    late_s: Number(late.toFixed(3)),
  };
}
