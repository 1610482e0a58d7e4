import type { RunContext } from './context.js';

/** Coverage factor for about 95 % (JCGM 100:2008, 6.2.2; JCGM 106:2012 names the guard band with it). */
export const coverage = 2;

/**
 * Share of the test pressure that is taken for the accuracy of a transducer of which nothing is known: a usual
 * industrial class (common practice). A guarded rule must not rest on noise and steps alone.
 */
const assumedShare = 0.0025;

/** Is a guarded rule asked for, and neither the calibration's uncertainty nor a class known? */
export const uncertaintyAssumed = ({ plan, instrument }: RunContext): boolean =>
  plan.decisionRule === 'guarded' && instrument.calibrationUncertainty === undefined && instrument.accuracyClass === undefined;

/** For the notes of a run. */
export const assumedNote = `Nothing is known of the transducer's uncertainty: ${100 * assumedShare} % of the test pressure was assumed for the guarded rule. Give its calibration or accuracy class.`;

const halfStep = (context: RunContext): number => (context.resolution ?? 0) / Math.sqrt(12);

/** Standard uncertainty of a level averaged over about a second, from calibration, accuracy class and resolution, bar. */
export function levelUncertainty(context: RunContext): number {
  const { instrument } = context;
  const span = instrument.range === undefined ? context.plan.testPressure : instrument.range.upper - instrument.range.lower;
  const limits = uncertaintyAssumed(context) ? assumedShare * context.plan.testPressure : ((instrument.accuracyClass ?? 0) / 100) * span;
  const fromClass = limits / Math.sqrt(3);
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
