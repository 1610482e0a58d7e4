import type { Mark } from '../trace.js';
import { refusal } from './unsettled.js';

/** s; where a clock began anew, nobody knows how long it was away. Longer than any allowed gap. */
const unknownPause = 10;
/** s; smaller steps back are jitter of whoever wrote the times, and the reader counts them. */
const jitter = 1;
/** Clocks that began anew without a repeated header and are told one by one. */
const toldOneByOne = 3;

/** What a clock that begins anew leaves behind. */
export interface Restarts {
  readonly marks: readonly Mark[];
  /** Each a sentence. */
  readonly notes: readonly string[];
}

/**
 * Puts readings whose clock began anew behind those before them, and marks the place: left as they are, the reader would
 * take them for late ones and see nothing of them. Changes `time` (s).
 * @param headers places of the samples before which the header is repeated
 * @throws InputError where the times run backward throughout, or in so many places that they are no clock
 */
export function placeRestarts(time: Float64Array, headers: readonly number[], source: string): Restarts {
  refuseBackward(time, source);
  const marks: Mark[] = [];
  const notes: string[] = [];
  const repeated = new Set(headers);
  let shift = 0;
  let newest = -Infinity;
  let unexplained = 0;
  for (let i = 0; i < time.length; i++) {
    const read = at(time, i);
    const atHeader = repeated.has(i) && i > 0;
    const back = atHeader ? read + shift <= newest : read + shift < newest - jitter && !isStray(time, i, newest - shift);
    if (back) {
      shift = newest + unknownPause - read;
      if (!atHeader) unexplained++;
      if (atHeader || unexplained <= toldOneByOne) notes.push(`the clock of the file ${atHeader ? 'began anew at a repeated header' : `runs back from ${shown(at(time, i - 1))} s to ${shown(read)} s (sample ${i + 1})`}; how long the pause was is not known, ${unknownPause} s are put in its place`);
    }
    if (atHeader) marks.push({ time: read + shift, kind: 'device-restart', text: 'the header is repeated here: the logger started again' });
    else if (back) marks.push({ time: read + shift, kind: 'device-restart', text: 'the time runs back here: a clock that started again, or another recording that was added' });
    // What lies before keeps the time as it was read, so that the sentences above can tell it.
    if (shift !== 0) time[i] = read + shift;
    newest = Math.max(newest, read + shift);
  }
  if (unexplained > Math.max(toldOneByOne, time.length / 100)) {
    throw refusal(source, '', `time runs back by more than ${jitter} s in ${unexplained} of ${time.length} samples; it should only run forward: sort the rows by time, or choose the time with --time-column`);
  }
  if (unexplained > toldOneByOne) notes.push(`the clock of the file runs back in ${unexplained - toldOneByOne} more places, each treated in the same way`);
  return { marks, notes };
}

const at = (time: Float64Array, i: number): number => time[i] as number;
const shown = (seconds: number): string => String(Number(seconds.toFixed(3)));

/** One time that is wrong among others that go on is left to the reader, which counts it. */
const isStray = (time: Float64Array, i: number, newest: number): boolean => i + 1 < time.length && at(time, i + 1) >= newest;

function refuseBackward(time: Float64Array, source: string): void {
  let forward = 0;
  let backward = 0;
  for (let i = 1; i < time.length; i++) {
    if (at(time, i) > at(time, i - 1)) forward++;
    else if (at(time, i) < at(time, i - 1)) backward++;
  }
  if (backward > 1 && backward > forward) {
    throw refusal(source, '', `time runs backward throughout: from ${shown(at(time, 0))} s to ${shown(at(time, time.length - 1))} s; the earliest sample should come first`);
  }
}
