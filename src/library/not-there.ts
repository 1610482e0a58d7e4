import { InputError } from '../core/problems.js';

/** Somebody asked for a plan or a version that there is not. */
export class NotThere extends InputError {
  constructor(source: string, text: string) {
    super(source, [{ place: '', text }]);
  }
}
