import type { Notice } from './driver.js';

/** `ticks` questions of the grid were left out. */
export const pollSkipped = (time: number, ticks: number): Notice => ({
  kind: 'notice',
  time,
  code: 'poll-skipped',
  count: ticks,
  text: `${ticks === 1 ? 'a question was' : `${ticks} questions were`} left out because the one before had no answer yet, or the computer was busy`,
});
