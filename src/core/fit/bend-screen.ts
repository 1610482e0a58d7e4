/** A cheap first look: most holds have no bend, and the thorough search costs more than the leak fit itself. */
import type { FitWindow } from './fit-window.js';
import { dot, orthonormal, project } from './orthogonal.js';
import { studentCdf } from './student-t.js';

/** Places looked at, and the share of the window at either end that is left out. */
const places = 32;
const margin = 0.06;

/** Above this the residuals are not white: correlated, or one exponential is too few. White ones stay below. */
const whiteRatio = 1.3;

/**
 * Chance of the clearest bend above which the thorough search is not begun: a hundred times what a bend has to reach
 * there, since places lie coarser here.
 */
const hopeless = 1e-4;

/** Seconds since `at` (s from the window's start); 0 before. */
export const bendColumn = ({ time }: FitWindow, at: number): Float64Array => time.map((t) => Math.max(0, t - at));

/**
 * True where the settling leaves white residuals and no bend comes near being plain. Correlated noise only makes a bend
 * less plain, so nothing that the thorough search would find is lost; where the residuals are not white it must look.
 * @param settling columns of the course without a bend, the straight line among them; not weighted
 */
export function noBendToSee(window: FitWindow, settling: readonly Float64Array[]): boolean {
  const { n, span, weight, pressure } = window;
  const root = weight.map(Math.sqrt);
  const weighed = (column: Float64Array): Float64Array => column.map((value, i) => value * (root[i] as number));
  const q = orthonormal(settling.map(weighed));
  const rest = weighed(pressure);
  for (const direction of q) project(direction, rest);
  const rss = dot(rest, rest);
  const dof = n - q.length - 1;
  if (dof < 4) return false;
  // Second differences see the noise alone, whatever the curve missed.
  let jitter = 0;
  for (let i = 2; i < n; i++) jitter += ((rest[i] as number) - 2 * (rest[i - 1] as number) + (rest[i - 2] as number)) ** 2;
  if (!(rss / (dof + 1) < (whiteRatio * jitter) / 6 / (n - 2))) return false;

  let most = 0;
  for (let k = 0; k < places; k++) {
    const column = bendColumn(window, (margin + (k * (1 - 2 * margin)) / (places - 1)) * span);
    for (let i = 0; i < n; i++) column[i] = (column[i] as number) * (root[i] as number);
    for (const direction of q) project(direction, column);
    const along = dot(column, rest);
    const information = dot(column, column);
    if (along < 0 && information > 0) most = Math.max(most, (along * along) / information);
  }
  return studentCdf(-Math.sqrt((most * dof) / Math.max(Number.MIN_VALUE, rss - most)), dof) >= hopeless;
}
