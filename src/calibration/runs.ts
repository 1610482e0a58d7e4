/** One point of a calibration, both in bar: what the standard gave and what the instrument showed there. */
export interface Point {
  readonly reference: number;
  readonly reading: number;
  /** Line of the file, from 1. */
  readonly line: number;
  /** As the file says it; absent where it has no such column. */
  readonly direction?: Direction;
}

export type Direction = 'up' | 'down';

/** Points one after the other with the pressure going one way. */
export interface Run {
  readonly direction: Direction;
  readonly points: readonly Point[];
}

/** Share of the span within which two reference pressures are one level. */
const sameLevel = 0.005;
/** Levels that make points a run rather than a coincidence. */
const leastLevels = 3;

/** Points of (nearly) the same reference pressure. */
export interface Level {
  /** bar, mean of its points. */
  readonly reference: number;
  readonly points: readonly Point[];
}

/** @param points at least one */
export function levelsOf(points: readonly Point[]): Level[] {
  const sorted = points.toSorted((a, b) => a.reference - b.reference);
  const tolerance = toleranceOf(points);
  const groups: Point[][] = [];
  for (const point of sorted) {
    const last = groups.at(-1);
    if (last?.[0] !== undefined && point.reference - last[0].reference <= tolerance) last.push(point);
    else groups.push([point]);
  }
  return groups.map((group) => ({ reference: group.reduce((sum, p) => sum + p.reference, 0) / group.length, points: group }));
}

/**
 * Points in the order in which they were taken, parted where the pressure turned. A level taken again at the turn begins
 * the way back; the step back to the beginning of another rise is no run. Empty where the order is mixed.
 */
export function runsOf(points: readonly Point[]): Run[] {
  const tolerance = toleranceOf(points);
  const told = points.every((p) => p.direction !== undefined);
  const runs = told ? toldRuns(points) : foundRuns(points, tolerance);
  return runs.every((run) => levelsOf(run.points).length >= leastLevels) ? runs : [];
}

const toleranceOf = (points: readonly Point[]): number => {
  const references = points.map((p) => p.reference);
  return sameLevel * (Math.max(...references) - Math.min(...references));
};

function toldRuns(points: readonly Point[]): Run[] {
  const runs: { direction: Direction; points: Point[] }[] = [];
  for (const point of points) {
    const direction = point.direction ?? 'up';
    const last = runs.at(-1);
    if (last?.direction === direction && !turnsBack(last.points, point, direction)) last.points.push(point);
    else runs.push({ direction, points: [point] });
  }
  return runs;
}

/** A rise after a rise begins lower than the one before ended. */
const turnsBack = (before: readonly Point[], point: Point, direction: Direction): boolean => {
  const last = before.at(-1)?.reference ?? point.reference;
  const first = before[0]?.reference ?? point.reference;
  const back = direction === 'up' ? last - point.reference : point.reference - last;
  return back > Math.abs(last - first) / 2 && back > 0;
};

function foundRuns(points: readonly Point[], tolerance: number): Run[] {
  const wayAfter = (index: number): Direction | null => {
    const from = points[index]?.reference ?? 0;
    for (const { reference } of points.slice(index + 1)) {
      if (reference - from > tolerance) return 'up';
      if (from - reference > tolerance) return 'down';
    }
    return null;
  };
  const runs: { direction: Direction | null; points: Point[] }[] = [];
  points.forEach((point, index) => {
    const run = runs.at(-1);
    const step = point.reference - (run?.points.at(-1)?.reference ?? point.reference);
    const way = step > tolerance ? 'up' : step < -tolerance ? 'down' : wayAfter(index);
    if (run === undefined || (run.direction !== null && way !== null && way !== run.direction)) runs.push({ direction: null, points: [point] });
    else {
      run.points.push(point);
      if (Math.abs(step) > tolerance) run.direction ??= way;
    }
  });
  return runs.map(({ direction, points: taken }) => ({ direction: direction ?? 'up', points: taken }));
}
