import type { Channel } from '../acquisition/channel-config.js';
import { judgedChannel } from '../acquisition/judged-channel.js';
import type { ReaderSetup } from '../core/run-reader.js';
import type { Instrument } from '../core/trace.js';
import type { BenchSetup } from '../server/bench-feed.js';
import type { JudgingSetup } from './bench-setup.js';
import { instrumentOf } from './instrument.js';

/** What one reader works by, from its first reading to its last. */
export interface ReaderTerms {
  readonly judging: JudgingSetup;
  /** The channel that it reads. */
  readonly channel: Channel;
  readonly instrument: Instrument;
}

/**
 * What a reader that begins now works by.
 * @param otherwise the channel where none of them is on the manifold
 * @param wall ms since 1970
 */
export function termsOf(judging: JudgingSetup, channels: readonly Channel[], otherwise: Channel, wall: number): ReaderTerms {
  const channel = judgedChannel(channels, judging.plan?.value ?? null) ?? otherwise;
  return { judging, channel, instrument: instrumentOf(channel, wall) };
}

/** Whether the calibration has become due since, or is no longer so, at `wall` (ms since 1970). */
export const calibrationTurned = ({ channel, instrument }: ReaderTerms, wall: number): boolean =>
  instrumentOf(channel, wall).calibrationOverdue !== instrument.calibrationOverdue;

/** The same for the reader itself. */
export const readerSetupOf = ({ judging, instrument }: ReaderTerms): ReaderSetup => ({
  plan: judging.plan?.value ?? null, thresholds: judging.thresholds.value, instrument,
});

/** The same for the pages. */
export const shownSetupOf = ({ judging: { plan, thresholds }, channel }: ReaderTerms): BenchSetup => ({
  plan: plan?.value ?? null,
  thresholds: thresholds.value.thresholds,
  gap: thresholds.value.gap,
  resolution: channel.resolution ?? null,
});
