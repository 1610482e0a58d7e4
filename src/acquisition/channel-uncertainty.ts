import type { ChannelConfig } from './channel-config.js';

/** % of span, taken where neither class nor certificate says how far a transducer may be off: common practice. */
const usualClass = 0.5;
/** k for about 95 % (JCGM 100:2008, 6.2.2). */
const coverage = 2;

/** Expanded uncertainty (k = 2) of a channel's pressure, bar: certificate, accuracy class (a rectangle), resolution. */
export function channelUncertainty({ calibration, accuracyClass, range, resolution = 0 }: ChannelConfig): number {
  const certificate = calibration?.uncertainty;
  const share = accuracyClass ?? (certificate === undefined ? usualClass : 0);
  const fromClass = ((share / 100) * (range.upper - range.lower)) / Math.sqrt(3);
  return coverage * Math.hypot((certificate ?? 0) / coverage, fromClass, resolution / Math.sqrt(12));
}
