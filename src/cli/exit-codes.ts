import { exitCode, worstVerdict, type Verdict } from '../core/outcome.js';

/** Something that a person must correct in what was given: files, options, ports. */
export const badInput = 2;
/** The program itself failed. Never 1, which says that an assembly failed. */
export const ownFailure = 70;

/** Exit code of several runs: the worst of them. */
export const exitCodeOf = (verdicts: readonly Verdict[]): number => exitCode[worstVerdict(verdicts)];
