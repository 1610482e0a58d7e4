import type { RunContext } from './context.js';

/** Coverage factor for about 95 % (JCGM 100:2008, 6.2.2; JCGM 106:2012 names the guard band with it). */
export const coverage = 2;

const halfStep = (context: RunContext): number => (context.resolution ?? 0) / Math.sqrt(12);

/** Standard uncertainty of a level averaged over about a second, from calibration, accuracy class and resolution, bar. */
export function levelUncertainty(context: RunContext): number {
  const { instrument } = context;
  const span = instrument.range === undefined ? 0 : instrument.range.upper - instrument.range.lower;
  const fromClass = ((instrument.accuracyClass ?? 0) / 100) * span / Math.sqrt(3);
  return Math.hypot(instrument.calibrationUncertainty ?? 0, fromClass, halfStep(context), averagedNoise(context));
}

/**
 * Standard uncertainty of a loss, bar: calibration and class as for a level, two readings' resolution, two averages'
 * noise. A constant offset would cancel in a difference, but how much of a class is constant is not known, so nothing
 * is taken off.
 */
export function lossUncertainty(context: RunContext): number {
  return Math.hypot(levelUncertainty(context), halfStep(context), averagedNoise(context));
}

function averagedNoise(context: RunContext): number {
  const perSecond = context.interval > 0 ? Math.max(1, 1 / context.interval) : 1;
  return context.noise / Math.sqrt(perSecond);
}
