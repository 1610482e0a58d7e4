import type { Finding } from '../../outcome.js';
import { finding, type CycleContext } from '../context.js';
import { bar, limitBar, rounded, within } from '../showing.js';

/** No real pressure above the ceiling, spike or not; electrical glitches do not count. */
export function ceiling(c: CycleContext): Finding | null {
  const { cycle, plan, step } = c;
  const limit = plan.ceilingPressure;
  if (limit === undefined) return null;
  const peak = rounded(cycle.peak ?? 0, step);
  const m = { measured: peak, limit, at: cycle.peakAt };
  if (!within(peak, limit)) {
    return finding('ceiling', 'broken', `The pressure rose to ${bar(peak, step)}, above the ceiling of ${limitBar(limit, step)}: the assembly was overloaded.`, m);
  }
  if (cycle.doubtPeak !== null && !within(rounded(cycle.doubtPeak, step), limit)) {
    return finding('ceiling', 'undecided',
      cycle.doubtInNoise === true
        ? `In a disturbed stretch of the signal readings went up to ${bar(cycle.doubtPeak, step)}, above the ceiling of ${bar(limit, step)}: whether the pressure did is not known.`
        : `A single leap to ${bar(cycle.doubtPeak, step)} may have been pressure or electrical: at one reading every ${Number(c.interval.toPrecision(2))} s the two look alike.`,
      { measured: rounded(cycle.doubtPeak, step), limit, at: cycle.doubtPeakAt });
  }
  if (cycle.startsPressurised && cycle.reached === null) {
    return finding('ceiling', 'undecided', 'The recording began at test pressure: what it peaked at before was not seen.', m);
  }
  const blind = Math.round(2000 * c.interval);
  const proviso = c.interval > 0.02 ? ` A spike shorter than ${blind} ms would not show at this sample rate.` : '';
  return finding('ceiling', 'met', `The highest pressure was ${bar(peak, step)}; the ceiling is ${limitBar(limit, step)}.${proviso}`, m);
}
