import type { Finding } from '../../outcome.js';
import { finding, type RunContext } from '../context.js';

/** As many full cycles as planned. */
export function cycles(c: RunContext): Finding {
  const full = c.cycles.filter((r) => r.holdDone && r.burst === null).length;
  const wanted = c.plan.cycles;
  const m = { measured: full, limit: wanted, unit: 'cycles' };
  const said = (n: number) => (n === 1 ? 'one full cycle' : `${n} full cycles`);
  return full >= wanted
    ? finding('cycles', 'met', `The run has ${said(full)}, as planned.`, m)
    : finding('cycles', 'undecided', `The run has ${full === 0 ? 'no full cycle' : said(full)} of ${wanted} planned.`, m);
}
