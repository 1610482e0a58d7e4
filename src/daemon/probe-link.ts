import { firstValueFrom, timeout } from 'rxjs';
import { systemClock } from '../../drivers/clock.js';
import { sourceOf } from '../../drivers/index.js';
import { LinkError, type Wiring } from '../../drivers/wiring.js';
import type { Link } from '../acquisition/links.js';
import { inputError } from '../core/problems.js';

/** ms that an opening may take; a network instrument that takes longer is tried on by the daemon itself. */
const patience = 5000;

/**
 * Opens a link once, to see that what the bench file says is there, and closes it again.
 * @throws InputError when it cannot be opened: no such port, another program has it, nothing listens there...
 */
export async function probeLink({ input, place }: Link, wiring: Wiring, source: string): Promise<void> {
  try {
    await firstValueFrom(sourceOf(input).read(wiring, systemClock).pipe(timeout({ first: patience })), { defaultValue: null });
  } catch (error) {
    if (error instanceof LinkError) throw inputError(source, place, error.message, error);
    if (!(error instanceof Error && error.name === 'TimeoutError')) throw error;
  }
}
