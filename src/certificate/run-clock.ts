/** A time of the trace's clock (s) counted from the start of the run, as documents print it: `93.2 s`. */
export const onRunClock = (time: number | null, from: number): string | null => (time === null ? null : `${(time - from).toFixed(1)} s`);

/**
 * A sentence of the outcome with its moments counted from the start of the run: the trace of a bench counts on for years
 * (`from 812345.2 s on`), and nobody who reads a certificate knows when that began. Durations are left alone.
 * @param from s, start of the run; @param to s, its end
 */
export function sentenceOnRunClock(sentence: string, from: number, to: number): string {
  return sentence.replaceAll(/(?<=\b(?:at|from) )(\d+\.\d) s\b/g, (whole, digits: string) => {
    const time = Number(digits);
    // A minute around the run: a gap that the run began with lies a little before it.
    return time >= from - 60 && time <= to + 60 ? `${(time - from).toFixed(1)} s` : whole;
  });
}
