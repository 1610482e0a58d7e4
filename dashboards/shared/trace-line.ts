/** The part of a Path2D that a line needs. */
export interface Pen {
  moveTo(x: number, y: number): void;
  lineTo(x: number, y: number): void;
}

/**
 * Leads the pen along the points and lifts it at every NaN. A point that stands alone gets a short dash, because a line
 * of no length is not drawn.
 *
 * @param dash half its length, px
 * @returns how many separate lines there are
 */
export function leadLine(
  pen: Pen,
  time: ArrayLike<number>,
  pressure: ArrayLike<number>,
  count: number,
  toX: (time: number) => number,
  toY: (pressure: number) => number,
  dash: number,
): number {
  let lines = 0;
  let length = 0;
  let x = 0;
  let y = 0;
  const lift = (): void => {
    if (length === 1) {
      pen.moveTo(x - dash, y);
      pen.lineTo(x + dash, y);
    }
    if (length > 0) lines++;
    length = 0;
  };
  for (let i = 0; i < count; i++) {
    const p = pressure[i] ?? Number.NaN;
    if (Number.isNaN(p)) {
      lift();
      continue;
    }
    x = toX(time[i] ?? Number.NaN);
    y = toY(p);
    if (length === 0) pen.moveTo(x, y);
    else pen.lineTo(x, y);
    length++;
  }
  lift();
  return lines;
}
