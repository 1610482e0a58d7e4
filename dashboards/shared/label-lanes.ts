/** A label that wants to stand at `x`, `width` wide, in pixels. */
export interface Wanted {
  readonly x: number;
  readonly width: number;
}

/** Heights (px, downward) near those wanted, from the top down, none above `top` and each at least `apart` below the one before. */
export function stacked(wanted: readonly number[], top: number, apart: number): number[] {
  const placed = new Array<number>(wanted.length);
  let next = top;
  for (const i of wanted.map((_, k) => k).sort((a, b) => (wanted[a] as number) - (wanted[b] as number))) {
    placed[i] = Math.max(wanted[i] as number, next);
    next = (placed[i]) + apart;
  }
  return placed;
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
