import type { Verdict } from '../core/outcome.js';
import type { RunTruth } from '../records/run-labels.js';

/** Verdicts that what is known of a run rules out. */
export const wrongVerdicts: Readonly<Record<RunTruth, readonly Verdict[]>> = { 'truly leaking': ['pass'], 'truly sound': ['fail'], 'cannot tell': ['pass', 'fail'] };
