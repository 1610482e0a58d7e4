/** s, extreme times. */
export function extentOf(time: Float64Array): { earliest: number; latest: number } {
  let earliest = Infinity;
  let latest = -Infinity;
  for (const t of time) {
    if (t < earliest) earliest = t;
    if (t > latest) latest = t;
  }
  return { earliest, latest };
}
