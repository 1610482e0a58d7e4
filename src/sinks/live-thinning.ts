/** Where thinned points go: equal lengths, written from the start. */
export interface ThinnedPoints {
  /** s */ readonly time: Float64Array;
  /** bar; NaN breaks the line. */ readonly pressure: Float64Array;
}

/** Room that `thin` needs for so many columns: four points and a break each, and the ends. */
export const thinnedRoom = (columns: number): number => 5 * columns + 8;

/** Arrays large enough for `columns`. */
export const thinnedPoints = (columns: number): ThinnedPoints => ({
  time: new Float64Array(thinnedRoom(columns)),
  pressure: new Float64Array(thinnedRoom(columns)),
});

export interface Thinning {
  /** First and last moment of the picture, s; the samples on either side of it are kept too, so that lines run out of it. */
  readonly from: number;
  readonly to: number;
  /** Width of the picture, whole columns, at least 1. */
  readonly columns: number;
  /** s between neighbours above which the line is broken. */
  readonly gap: number;
}

/**
 * Keeps of each column its first, lowest, highest and last sample, in order of time, so that the shortest spike is
 * drawn at any width. Where a sample is missing (NaN) or silence lasted longer than `gap`, one NaN point breaks the
 * line; a break that begins and ends within one column is too narrow to be seen and is left out, which bounds the
 * result (`thinnedRoom`).
 *
 * @param time s, never falling; the samples `start` (inclusive) to `end` (exclusive) are read
 * @param pressure bar
 * @returns how many points were written to `out`
 */
export function thin(
  time: Float64Array,
  pressure: Float64Array,
  start: number,
  end: number,
  picture: Thinning,
  out: ThinnedPoints,
): number {
  const perSecond = picture.columns / Math.max(picture.to - picture.from, 1e-9);
  let written = 0;
  let column = Number.NaN;
  let first = -1;
  let lowest = -1;
  let highest = -1;
  let last = -1;
  let before = Number.NaN;
  let broken = false;

  const put = (index: number): void => {
    out.time[written] = time[index] ?? Number.NaN;
    out.pressure[written] = pressure[index] ?? Number.NaN;
    written++;
  };
  const closeColumn = (): void => {
    if (first < 0) return;
    const early = Math.min(lowest, highest);
    const late = Math.max(lowest, highest);
    put(first);
    if (early > first && early < last) put(early);
    if (late > early && late > first && late < last) put(late);
    if (last > first) put(last);
  };

  for (let i = start; i < end; i++) {
    const t = time[i] ?? Number.NaN;
    const p = pressure[i] ?? Number.NaN;
    if (Number.isNaN(p) || t - before > picture.gap) broken = true;
    before = t;
    if (Number.isNaN(p)) continue;
    const at = Math.min(Math.max(Math.floor((t - picture.from) * perSecond), -1), picture.columns);
    if (at !== column) {
      closeColumn();
      if (broken && written > 0) {
        out.time[written] = t;
        out.pressure[written] = Number.NaN;
        written++;
      }
      column = at;
      first = lowest = highest = i;
    } else {
      if (p < (pressure[lowest] ?? p)) lowest = i;
      if (p > (pressure[highest] ?? p)) highest = i;
    }
    last = i;
    broken = false;
  }
  closeColumn();
  return written;
}
