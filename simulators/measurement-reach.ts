import type { Evidence } from './truth.js';

/**
 * How near to a limit a true value may lie before the recording no longer decides on which side it is.
 * Everything here is known from what was set, not from any detector; factors are generous on purpose.
 */

/** bar; standard deviation of one reading around the true pressure. */
const readingSpread = (e: Evidence): number => Math.hypot(e.transducer.noise, e.transducer.wander, e.transducer.resolution / Math.sqrt(12));

/** bar; errors that no averaging removes, at this pressure. */
const systematic = (e: Evidence, pressure: number): number => {
  const { gainError, zeroError, drift, resolution } = e.transducer;
  return Math.abs(gainError) * pressure + Math.abs(zeroError) + (Math.abs(drift) * (e.to - e.from)) / 60 + resolution;
};

/** bar; reach of the highest (or lowest) single reading. */
export const maximumReach = (e: Evidence, pressure: number): number => 5 * readingSpread(e) + systematic(e, pressure);

/** bar; reach of a median over about a second. */
export function medianReach(e: Evidence, pressure: number): number {
  const { noise, wander, rate } = e.transducer;
  return 4 * Math.hypot((1.25 * noise) / Math.sqrt(Math.max(1, rate)), 1.25 * wander) + systematic(e, pressure);
}

/** bar; reach of the difference of two such medians: a constant error of the zero cancels. */
export const differenceReach = (e: Evidence, difference: number): number =>
  2 * medianReach(e, 0) - 2 * Math.abs(e.transducer.zeroError) + Math.abs(e.transducer.gainError * difference);

/**
 * bar/min; four standard errors of a leak rate fitted together with one exponential settling (time constant a third of
 * the span), from the information matrix (Cramer-Rao bound) for the white noise, plus what slow noise adds.
 */
export function leakRateError(e: Evidence, from: number, start: number, end: number): number {
  const begin = Math.max(from, start - 30);
  const span = end - begin;
  const tau = span / 3;
  const count = 200;
  // Normal equations of 1, t and exp(-t/tau); the variance of t follows by elimination.
  let [s1, st, se, stt, ste, see] = [0, 0, 0, 0, 0, 0];
  for (let i = 0; i < count; i++) {
    const t = (span * (i + 0.5)) / count;
    const x = Math.exp(-t / tau);
    s1 += 1;
    st += t;
    se += x;
    stt += t * t;
    ste += t * x;
    see += x * x;
  }
  const att = stt - (st * st) / s1;
  const ate = ste - (st * se) / s1;
  const aee = see - (se * se) / s1;
  const samples = span * e.transducer.rate;
  const white = Math.hypot(e.transducer.noise, e.transducer.resolution / Math.sqrt(12));
  const variance = (white * white * count) / samples / (att - (ate * ate) / aee);
  const slow = (2.5 * e.transducer.wander) / span;
  return 4 * 60 * Math.hypot(Math.sqrt(variance), slow) + Math.abs(e.transducer.drift);
}

/** Expanded uncertainty (k = 2) of a guarded rule, as narrow and as wide as a reasonable budget gives; `null` for the simple rule. */
export function guardBand(e: Evidence): { readonly narrowest: number; readonly widest: number } | null {
  if (e.plan.decisionRule !== 'guarded') return null;
  const { accuracyClass = 0, range, resolution = e.transducer.resolution, calibrationUncertainty = 0 } = e.instrument;
  const span = range === undefined ? e.transducer.range : range.upper - range.lower;
  const u = Math.hypot((accuracyClass / 100) * span / Math.sqrt(3), resolution / Math.sqrt(12), calibrationUncertainty);
  // A drop is a difference: its budget may count the common error twice (times root 2) or mostly cancel it.
  return { narrowest: 0.35 * 2 * u, widest: 1.5 * 2 * u };
}
