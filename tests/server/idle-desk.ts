import { inputError } from '../../src/core/problems.js';
import type { JobState, OperatorDesk } from '../../src/server/operator-desk.js';

const nothing: JobState = { waiting: null, present: null, last: null };
const refuse = (): never => {
  throw inputError('idle desk', '', 'has no runs');
};

/** The desk of a bench where nobody has keyed anything in, for pages that are tested without a store. */
export const idleDesk = (bench: string): OperatorDesk => ({
  bench, jobs: () => nothing, keyIn: () => nothing, sameAgain: refuse, retest: refuse, putAside: () => nothing, about: refuse, say: refuse,
  documents: { make: () => Promise.reject(inputError('idle desk', '', 'has no runs')), close: () => Promise.resolve() },
});
