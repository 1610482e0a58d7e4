import { median } from '../fit/statistics.js';
import type { CycleRecord } from '../reading/cycle-record.js';
import type { Instrument } from '../trace.js';

/** Strokes below the top that the compliance is taken from. */
const lastStrokes = 5;

/**
 * ml per bar near the test pressure: as given, or the stroke volume over the median rise of the last five strokes;
 * `null` where neither is known. A pump near its stall brings less than a full stroke, so the second is an upper bound.
 */
export function complianceOf(instrument: Instrument, cycle: CycleRecord): number | null {
  if (instrument.compliance !== undefined) return instrument.compliance;
  if (instrument.strokeVolume === undefined || cycle.strokeRise.length < lastStrokes) return null;
  const rise = median(cycle.strokeRise.slice(-lastStrokes));
  return rise > 0 ? instrument.strokeVolume / rise : null;
}
