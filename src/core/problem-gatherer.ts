import { InputError } from './problems.js';

/** Several readings of input whose problems are told all at once rather than one after the other. */
export class ProblemGatherer {
  readonly errors: InputError[] = [];

  /** What `read` gives; `undefined` where the input is wrong, which is kept. Other errors are bugs and pass through. */
  attempt<T>(read: () => T): T | undefined {
    try {
      return read();
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      this.errors.push(error);
      return undefined;
    }
  }
}
