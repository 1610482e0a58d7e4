import { fitLinear } from '../core/fit/linear-least-squares.js';
import { levelsOf, type Level, type Point, type Run } from './runs.js';

/** What the points say about the instrument apart from its curve, in % of the span; `null` where the points cannot tell. */
export interface Figures {
  /** Largest distance between the way down and the way up at one level, averaged over the series. */
  readonly hysteresis: number | null;
  /** Largest distance of the levels (all their points averaged) from the straight line that fits them best. */
  readonly nonLinearity: number | null;
  /** Largest spread at one level between series of the same direction. */
  readonly repeatability: number | null;
}

/** Error of a point: what the instrument showed too much, bar. Errors are compared, as references differ a little. */
const errorOf = ({ reading, reference }: Point): number => reading - reference;
const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;

/**
 * Terms of IEC 61298-2 (from memory), with averaging as in DKD-R 6-1 (from memory).
 * @param span bar
 */
export function figuresOf(points: readonly Point[], runs: readonly Run[], span: number): Figures {
  const levels = levelsOf(points);
  const percent = (values: readonly number[]): number | null => (values.length === 0 ? null : (Math.max(...values) / span) * 100);
  return {
    hysteresis: percent(levels.flatMap((level) => widthAt(level, runs))),
    nonLinearity: percent(distancesFromLine(levels)),
    repeatability: percent(levels.flatMap((level) => spreadsAt(level, runs))),
  };
}

/** Mean error of each run at a level, by direction. */
function errorsAt(level: Level, runs: readonly Run[], direction: Run['direction']): number[] {
  return runs
    .filter((run) => run.direction === direction)
    .map((run) => run.points.filter((point) => level.points.includes(point)))
    .filter((at) => at.length > 0)
    .map((at) => mean(at.map(errorOf)));
}

function widthAt(level: Level, runs: readonly Run[]): number[] {
  const up = errorsAt(level, runs, 'up');
  const down = errorsAt(level, runs, 'down');
  const pairs = Math.min(up.length, down.length);
  // Up and down of one series belong together.
  return pairs === 0 ? [] : [mean(Array.from({ length: pairs }, (_, i) => Math.abs((down[i] ?? 0) - (up[i] ?? 0))))];
}

function spreadsAt(level: Level, runs: readonly Run[]): number[] {
  return (['up', 'down'] as const)
    .map((direction) => errorsAt(level, runs, direction))
    .filter((errors) => errors.length > 1)
    .map((errors) => Math.max(...errors) - Math.min(...errors));
}

function distancesFromLine(levels: readonly Level[]): number[] {
  if (levels.length < 3) return [];
  const references = levels.map((level) => mean(level.points.map((p) => p.reference)));
  const readings = levels.map((level) => mean(level.points.map((p) => p.reading)));
  const fit = fitLinear([references.map(() => 1), references], readings);
  return fit === null ? [] : Array.from(fit.residuals, Math.abs);
}
