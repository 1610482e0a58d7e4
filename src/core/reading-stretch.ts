/**
 * What was read to judge a run. A fresh reader that is first told how the lid stood and then given all samples and marks
 * from `from` to `to` comes to the very same outcome.
 */
export interface ReadingStretch {
  /** s, on the trace's own clock: where reading began, some idle time before the run. */
  readonly from: number;
  /** s: the sample or mark that closed the run. */
  readonly to: number;
  /** The lid contact as it was known at `from`; `null` where none had been seen. */
  readonly lid: 'open' | 'closed' | null;
}
