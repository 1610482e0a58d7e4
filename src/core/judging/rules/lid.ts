import type { Finding } from '../../outcome.js';
import { finding, type RunContext } from '../context.js';
import { seconds } from '../showing.js';

/** The lid must stay shut while there is pressure, where a contact tells. */
export function lid(c: RunContext): Finding | null {
  if (!c.lidWatched) return null;
  const open = c.cycles.find((r) => r.lidOpenAt !== null)?.lidOpenAt ?? null;
  return open === null
    ? finding('lid', 'met', 'The lid stayed shut while there was pressure.', { unit: '' })
    : finding('lid', 'undecided', `The lid was open under pressure at ${seconds(open)}.`, { unit: '', at: open });
}
