/**
 * What the stages need to know of the signal at this moment. One object that is changed in place: numbers handed from
 * call to call would each be put on the heap, sample after sample.
 */
export interface SignalScale {
  /** bar: noise of a sample, never below what rounding makes. */
  sigma: number;
  /** bar: what moves from sample to sample, 0 for frozen readings. */
  moving: number;
  /** bar: smallest step of the reading, as known or as seen so far. */
  resolution: number;
  /** s: usual spacing of samples. */
  interval: number;
  /** Share of the readings that are news, 1 where none is sent again. */
  news: number;
}

export const freshScale = (): SignalScale => ({ sigma: 0, moving: 0, resolution: 0, interval: 0, news: 1 });
