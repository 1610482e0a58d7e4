/** What a recording should look like. Pressures in bar, times in s. */
export interface Recording {
  /** Pressure that the pump reaches. */
  readonly top?: number;
  /** bar/min lost after the settling. */
  readonly leak?: number;
  /** s from arrival to the vent. */
  readonly watched?: number;
}

/**
 * A plain pressurisation as own-format CSV, 20 samples a second: 3 s vented, 15 s of rise, an exponential settling of 3 bar
 * with a time constant of 6 s, then vented. The last digit flickers by 0.05 bar as that of a live transducer does.
 */
export function recording({ top = 557, leak = 0.2, watched = 110 }: Recording = {}): string {
  const rise = 15;
  const rows = ['time_s,pressure_bar'];
  const end = 3 + rise + watched + 6;
  for (let i = 0; i <= end * 20; i++) {
    const t = i / 20;
    const since = t - 3 - rise;
    const flicker = 0.05 * (((i * 7919) % 5) - 2) * 0.5;
    const held = top - 3 * (1 - Math.exp(-since / 6)) - (leak / 60) * since;
    const p = t < 3 ? 0 : since < 0 ? (top * (t - 3)) / rise : since < watched ? held : Math.max(0, held - 400 * (since - watched));
    rows.push(`${t.toFixed(2)},${(p + flicker).toFixed(2)}`);
  }
  return `${rows.join('\n')}\n`;
}

/** A plan that `recording()` passes. */
export const plan = `plan: two-wire DN12 proof
testPressure: 550 bar
holdTime: 60 s
minimumPressure: 545 bar
maximumDrop: 1 %
ceilingPressure: 600 bar
`;
