/** A stretch without valid readings, s: from the last sample before it to the first one after it. */
export interface Gap {
  readonly from: number;
  readonly to: number;
}

/** Samples in order of time, as a chart reads them: those from `start` to before `end` count. */
export interface TraceColumns {
  /** s */ readonly time: Float64Array;
  /** bar, NaN where there was no number. */ readonly pressure: Float64Array;
  readonly start: number;
  readonly end: number;
}

export interface TraceSource extends TraceColumns {
  readonly gaps: readonly Gap[];
  /** Index of the first sample at or after `time`, within `start` ... `end`. */
  indexAt(time: number): number;
  /** Index of the good sample nearest to `time`; -1 when none lies within `reach` s. */
  nearest(time: number, reach: number): number;
}

/** Index of the first sample at or after `time`, within `start` ... `end`. */
export function indexAt({ time: times, start, end }: TraceColumns, time: number): number {
  let low = start;
  let high = end;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if ((times[middle] ?? Number.NaN) < time) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Index of the good sample nearest to `time`; -1 when none lies within `reach` s. */
export function nearest(columns: TraceColumns, time: number, reach: number): number {
  const { time: times, pressure, start, end } = columns;
  const at = indexAt(columns, time);
  let best = -1;
  let least = reach;
  for (const step of [-1, 1]) {
    for (let i = step < 0 ? at - 1 : at; i >= start && i < end; i += step) {
      const far = Math.abs((times[i] ?? Number.NaN) - time);
      if (!(far <= least)) break;
      if (Number.isNaN(pressure[i])) continue;
      least = far;
      best = i;
      break;
    }
  }
  return best;
}
