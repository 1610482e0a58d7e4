import { CommanderError } from 'commander';
import { InputError } from '../core/problems.js';
import { badInput, ownFailure } from './exit-codes.js';

/** Says what went wrong on stderr; the exit code that it means. */
export function reportFailure(error: unknown): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : badInput;
  const problems = error instanceof AggregateError ? (error.errors as unknown[]) : [error];
  if (problems.every((problem) => problem instanceof InputError)) {
    for (const problem of problems) console.error(problem.message);
    return badInput;
  }
  console.error('Dwellkeeper itself failed; nothing was judged. What it was doing:');
  console.error(error);
  return ownFailure;
}
