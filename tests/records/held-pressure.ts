/** 3 February 2026, 08:00 UTC, in ms since 1970. */
export const morning = Date.UTC(2026, 1, 3, 8);

/** Pressure of an invented assembly held at 550 bar: 0.01 bar steps, a ripple that no two seconds share. bar */
export const heldPressure = (i: number): number => Math.round((550 + Math.sin(i * 0.7) * 0.03 + Math.sin(i * 0.0137) * 0.4) * 100) / 100;
