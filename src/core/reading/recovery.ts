/**
 * What a hose gives back when its pressure is let down only in part: its wall, stretched for minutes, goes on shrinking, and
 * the water, cooled by its expansion, warms up, so the shut-in pressure creeps up again without a stroke.
 */
export interface RecoveryState {
  /** bar: what the pressure was let down from, and the lowest it has come to. */
  from: number;
  lowest: number;
}

export const freshRecovery = (from = 0): RecoveryState => ({ from, lowest: from });

/**
 * Share of what was let down that comes back by itself at most. Walls creep within minutes by some per cent of their stretch,
 * a tenth and more where textile bears the load (common practice); the water (at 20 degrees C, from memory: 1.5 mK/bar, 0.2
 * to 0.3 per mille/K, against 0.08 per mille/bar of compliance) adds half a per cent.
 */
const givenBack = 0.15;

/** Takes a bin of the vent, bar. */
export function watchRecovery(s: RecoveryState, mean: number): void {
  if (mean < s.lowest) s.lowest = mean;
}

/** Can a rise to `top` (bar) be what the hose gives back? */
export const isRecovery = ({ from, lowest }: RecoveryState, top: number): boolean => top - lowest < givenBack * (from - lowest);
