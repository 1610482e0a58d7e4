import type { FoundEvent, Outcome } from '../outcome.js';
import type { IntakeState } from './intake.js';
import { movingSigma, type NoiseState } from './noise.js';

/** An event on the trace's own clock (`origin` s is the reader's zero there), with no more digits than mean something. */
export function toldEvent(event: FoundEvent, origin: number): FoundEvent {
  return {
    ...event,
    at: Number((origin + event.at).toFixed(6)),
    ...(event.height === undefined ? {} : { height: Number(event.height.toFixed(4)) }),
    ...(event.width === undefined ? {} : { width: Number(event.width.toFixed(4)) }),
    ...(event.pressure === undefined ? {} : { pressure: Number(event.pressure.toFixed(4)) }),
  };
}

/** Samples before the noise is told. */
const enough = 30;

/** What was read: counts, usual interval (s), resolution and noise (bar). */
export function signalFacts(intake: IntakeState, noise: NoiseState, missing: number, resolution: number | null): Outcome['signal'] {
  return {
    samples: intake.samples,
    interval: intake.intervals > 0 ? Number(intake.interval.toPrecision(4)) : null,
    resolution: resolution === null ? null : Number(resolution.toPrecision(4)),
    noise: intake.samples > enough ? Number(movingSigma(noise).toPrecision(3)) : null,
    missing,
    duplicates: intake.duplicates,
    backward: intake.backward,
  };
}
