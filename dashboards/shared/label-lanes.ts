/** A label that wants to stand at `x`, `width` wide, in pixels. */
export interface Wanted {
  readonly x: number;
  readonly width: number;
}

/**
 * Gives each label the highest lane in which it does not touch the one before; -1 where all lanes are taken, and only
 * its shape is drawn. Labels come in order of `x`.
 */
export function lanes(labels: readonly Wanted[], most: number, space: number): number[] {
  const ends = new Array<number>(most).fill(Number.NEGATIVE_INFINITY);
  return labels.map(({ x, width }) => {
    const lane = ends.findIndex((end) => x >= end + space);
    if (lane >= 0) ends[lane] = x + width;
    return lane;
  });
}
