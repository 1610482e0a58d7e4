import type { Finding } from '../../outcome.js';
import { finding, type CycleContext } from '../context.js';
import { figures, within } from '../showing.js';

/** The rise must be neither too fast (steepest second) nor too slow (mean from a tenth to nine tenths). */
export function rise(c: CycleContext): Finding | null {
  const { cycle, plan } = c;
  const wanted = plan.riseRate;
  if (wanted === undefined || (wanted.minimum === undefined && wanted.maximum === undefined)) return null;
  const unit = 'bar/s';
  const fastest = cycle.steepest === null ? null : figures(cycle.steepest.rate);
  if (wanted.maximum !== undefined && fastest !== null && !within(fastest, wanted.maximum)) {
    return finding('rise', 'broken', `The pressure rose by ${fastest} bar/s at its steepest; at most ${wanted.maximum} bar/s is allowed.`, {
      measured: fastest, limit: wanted.maximum, unit, at: cycle.steepest?.at ?? null,
    });
  }
  if (cycle.startsPressurised) return finding('rise', 'undecided', 'The rise was not seen: the recording began under pressure.', { unit });
  const mean = cycle.meanRise === null ? null : figures(cycle.meanRise);
  if (wanted.minimum !== undefined) {
    if (mean === null) return finding('rise', 'undecided', 'The rise to the test pressure was not seen to its end.', { limit: wanted.minimum, unit });
    if (mean < wanted.minimum - 1e-9) {
      return finding('rise', 'broken', `The pressure rose by ${mean} bar/s on average; at least ${wanted.minimum} bar/s is asked for.`, {
        measured: mean, limit: wanted.minimum, unit, at: cycle.rising,
      });
    }
  }
  if (fastest === null) return finding('rise', 'undecided', 'Too little of the rise was seen to tell its rate.', { unit });
  return finding('rise', 'met', `The pressure rose by ${fastest} bar/s at its steepest.`, {
    measured: fastest, limit: wanted.maximum ?? wanted.minimum ?? null, unit, at: cycle.steepest?.at ?? null,
  });
}
