/** Numbers as they are shown, and therefore as they are compared: rounded once to the instrument's resolution. */

/** bar; the step that pressures are shown in. */
export function shownStep(resolution: number | null, testPressure: number): number {
  const finest = testPressure < 20 ? 0.001 : 0.01;
  return resolution === null || !(resolution > 0) ? finest : Math.max(resolution, finest / 10);
}

/** Rounded to a whole number of steps, with no more digits than the step has. */
export function rounded(value: number, step: number): number {
  return Number((Math.round(value / step + 1e-9) * step).toFixed(decimalsOf(step)));
}

/** Digits after the point that show `step` to within a thousandth of it, at most 6. */
export function decimalsOf(step: number): number {
  for (let d = 0; d < 6; d++) if (Math.abs(Math.round(step * 10 ** d) / 10 ** d - step) < step * 1e-3) return d;
  return 6;
}

/** `551.0 bar`: as many digits as the step calls for. */
export const bar = (value: number, step: number): string => `${rounded(value, step).toFixed(Math.min(decimalsOf(step), 3))} bar`;

/** bar: a limit is a limit whatever the steps of the readings: as it is written, to 0.01 bar, or to a finer digit beside finer readings. */
export const limitOf = (value: number, step: number): number => rounded(value, 10 ** Math.floor(Math.log10(Math.min(step, 0.01)) + 1e-9));

/** `600.0 bar` beside readings in steps of 0.1 bar, `2.15 bar` beside readings in steps of 4 bar. */
export function limitBar(limit: number, step: number): string {
  const shown = limitOf(limit, step);
  let digits = 0;
  while (digits < 3 && Math.abs(Number(shown.toFixed(digits)) - shown) > 1e-9) digits++;
  const plain = Math.abs(Math.log10(step) - Math.round(Math.log10(step))) < 1e-6;
  return `${shown.toFixed(plain ? Math.max(digits, Math.min(decimalsOf(step), 3)) : digits)} bar`;
}

/** `93.2 s` */
export const seconds = (value: number): string => `${value.toFixed(1)} s`;

/** Three or four figures, for rates. */
export const figures = (value: number): number => Number(value.toPrecision(Math.abs(value) >= 100 ? 4 : 3));

/** `x <= limit` for shown numbers: equal is within. */
export const within = (shown: number, limit: number): boolean => shown <= limit + 1e-9;
