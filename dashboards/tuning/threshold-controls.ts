import type { Thresholds } from '../../src/core/thresholds.js';

export type ThresholdKey = Exclude<keyof Thresholds, 'thresholds'>;

/** What a threshold is about: where its control stands. */
export const groups = ['Electrical glitches', 'Strokes and spikes', 'Settling', 'Hold', 'Burst and vent', 'Start and end of a run', 'Sound readings'] as const;
export type Group = (typeof groups)[number];

/** In what a control writes its number: a share of the test pressure, or a time. */
export type ControlUnit = '%' | '%/s' | '%/min' | 'ms' | 's';

/** How a threshold is set on the page. Its meaning and whole range come from the schema that checks it. */
export interface ThresholdControl {
  readonly key: ThresholdKey;
  readonly label: string;
  readonly group: Group;
  readonly unit: ControlUnit;
  /** Ends of the slider, in `unit`: what is usual, well within what is allowed. */
  readonly usual: readonly [low: number, high: number];
}

const control = (key: ThresholdKey, label: string, group: Group, unit: ControlUnit, low: number, high: number): ThresholdControl => ({ key, label, group, unit, usual: [low, high] });

/** A control for every threshold, in the order in which a run meets them. */
export const thresholdControls: readonly ThresholdControl[] = [
  control('spikeHeight', 'Spike height', 'Strokes and spikes', '%', 0.1, 20),
  control('spikeWidth', 'Spike width', 'Strokes and spikes', 'ms', 10, 2000),
  control('strokeHeight', 'Stroke height', 'Strokes and spikes', '%', 0.02, 5),
  control('quietTime', 'Quiet after the last stroke', 'Settling', 's', 0.5, 60),
  control('settleWindow', 'Span of the slope', 'Settling', 's', 1, 60),
  control('settleSlope', 'Slope that counts as settled', 'Settling', '%/min', 0.02, 10),
  control('settleTimeout', 'Longest settling', 'Settling', 's', 5, 600),
  control('breachTime', 'Time below the minimum', 'Hold', 's', 0.05, 30),
  control('topUpHeight', 'Top-up height', 'Hold', '%', 0.02, 5),
  control('burstFraction', 'Burst share', 'Burst and vent', '%', 5, 90),
  control('burstTime', 'Burst time', 'Burst and vent', 'ms', 10, 2000),
  control('ventRate', 'Vent rate', 'Burst and vent', '%/s', 0.2, 50),
  control('ventPressure', 'Vented below', 'Burst and vent', '%', 0.5, 20),
  control('attemptPressure', 'A test from', 'Start and end of a run', '%', 5, 90),
  control('runEnd', 'Vented time that ends a run', 'Start and end of a run', 's', 1, 600),
  control('glitchWidth', 'Glitch width', 'Electrical glitches', 'ms', 1, 200),
  control('slewLimit', 'Fastest real pressure', 'Electrical glitches', '%/s', 100, 20_000),
  control('gap', 'Gap', 'Sound readings', 's', 0.05, 30),
  control('zeroLimit', 'Zero off by', 'Sound readings', '%', 0.05, 5),
  control('flatlineTime', 'Still for', 'Sound readings', 's', 2, 300),
];

/** The control of a threshold. */
export function controlOf(key: ThresholdKey): ThresholdControl {
  const found = thresholdControls.find((other) => other.key === key);
  if (found === undefined) throw new RangeError(`there is no control for ${key}`);
  return found;
}
