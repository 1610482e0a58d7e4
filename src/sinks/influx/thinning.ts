/** A stretch of samples, as a block holds them. */
interface Stretch {
  readonly time: Float64Array;
  readonly pressure: Float64Array;
  readonly flags: Uint8Array;
}

/**
 * Which samples of a stretch stand for it: of each interval the first, lowest, highest and last, and the first and last
 * with a flag, so that neither a spike nor a fault is lost.
 * @param from index of the first sample that counts
 * @param interval s
 * @returns a byte a sample, 1 where it is kept
 */
export function standing({ time, pressure, flags }: Stretch, from: number, interval: number): Uint8Array {
  const kept = new Uint8Array(time.length);
  for (let begin = from; begin < time.length; ) {
    const slot = Math.floor(time[begin]! / interval);
    let end = begin;
    let [lowest, highest, firstFlagged, lastFlagged] = [-1, -1, -1, -1];
    for (; end < time.length && Math.floor(time[end]! / interval) === slot; end++) {
      if (flags[end] !== 0) {
        if (firstFlagged < 0) firstFlagged = end;
        lastFlagged = end;
      } else if (!Number.isNaN(pressure[end]!)) {
        if (lowest < 0 || pressure[end]! < pressure[lowest]!) lowest = end;
        if (highest < 0 || pressure[end]! > pressure[highest]!) highest = end;
      }
    }
    for (const at of [begin, lowest, highest, end - 1, firstFlagged, lastFlagged]) if (at >= 0) kept[at] = 1;
    begin = end;
  }
  return kept;
}
