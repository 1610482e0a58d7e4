/**
 * Is an excursion rounded, as water makes it, or does it leap, as electricity does? Looked at with the readings on its
 * flanks, as the lowest of a pulse of pressure may have gone before as the course.
 */
export interface Pulse {
  /** s and bar: the excursion with what lies before and behind it. */
  readonly times: readonly number[];
  readonly pressures: readonly number[];
}

export type Roundness =
  /** Climbed and left over two readings or more each: pressure. */
  | 'pulse'
  /** No leap to its top, but too few readings to say more. */
  | 'rounded'
  | 'leap';

/** Share of the height that a rounded pulse rises or falls by at most from one reading to the next. */
const largestStep = 0.7;
/** Shares of the height between which a reading lies on a flank. */
const foot = 0.04;
const crest = 0.92;

/**
 * How round the pulse is, and `wide` (s), twice its width at half height: so long is the whole of a rounded one.
 * @param way 1 for one that goes up, -1 for a dip
 * @param noise bar, by which a reading may lie off a smooth course
 */
export function roundnessOf({ times, pressures }: Pulse, way: 1 | -1, noise: number): { readonly round: Roundness; readonly wide: number } {
  let top = 0;
  for (let i = 1; i < times.length; i++) if (way * at(pressures, i) > way * at(pressures, top)) top = i;
  const crown = way * at(pressures, top);
  const ends = [flankEnd(pressures, top, -1, way, noise), flankEnd(pressures, top, 1, way, noise)] as const;
  const [before, after] = ends.map((i) => crown - way * at(pressures, i)) as [number, number];
  const half = Math.min(before, after) / 2;
  if (!(half > noise)) return { round: 'leap', wide: 0 };
  const level = crown - half;
  const wide = 2 * (passing(times, pressures, top, 1, way, level) - passing(times, pressures, top, -1, way, level));
  const height = Math.max(before, after);
  // A flank that goes on beyond what is looked at is higher than what is seen of it.
  const climb = ends[0] > 0 ? before : height;
  const fall = ends[1] < times.length - 1 ? after : height;
  let up = 0, down = 0;
  for (let i = ends[0]; i < ends[1]; i++) {
    const step = way * (at(pressures, i + 1) - at(pressures, i));
    if (step > largestStep * climb || -step > largestStep * fall) return { round: 'leap', wide };
  }
  for (let i = ends[0]; i <= ends[1]; i++) {
    const share = 1 - (crown - way * at(pressures, i)) / height;
    if (share < Math.max(foot, noise / height) || share > crest) continue;
    if (i < top) up++;
    else down++;
  }
  return { round: up >= 2 && down >= 2 ? 'pulse' : 'rounded', wide };
}

const at = (list: readonly number[], i: number): number => list[i] as number;

/** The last reading of one side of the pulse, from its top on as far as it only falls. */
function flankEnd(pressures: readonly number[], top: number, side: 1 | -1, way: 1 | -1, noise: number): number {
  let end = top;
  while (end + side >= 0 && end + side < pressures.length && way * at(pressures, end + side) < way * at(pressures, end) + noise) end += side;
  return end;
}

/** s: when the side of the pulse passes the level, between two readings; the last of them where it does not. */
function passing(times: readonly number[], pressures: readonly number[], top: number, side: 1 | -1, way: 1 | -1, level: number): number {
  for (let i = top + side; i >= 0 && i < times.length; i += side) {
    const [inner, outer] = [way * at(pressures, i - side), way * at(pressures, i)];
    if (outer <= level) return at(times, i - side) + ((at(times, i) - at(times, i - side)) * (inner - level)) / (inner - outer);
  }
  return at(times, side > 0 ? times.length - 1 : 0);
}
