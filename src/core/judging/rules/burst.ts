import type { Finding } from '../../outcome.js';
import { finding, type CycleContext } from '../context.js';
import { bar, rounded, seconds } from '../showing.js';

/** No sudden loss before the hold is done. */
export function burst(c: CycleContext): Finding {
  const { cycle, step } = c;
  const b = cycle.burst;
  if (b !== null) {
    const m = { measured: rounded(b.pressure, step), at: b.at };
    const fell = `fell from ${bar(b.pressure, step)} to ${bar(b.to, step)} ${b.within < 0.05 && c.interval < 0.05 ? 'at once' : `within ${seconds(Math.max(b.within, c.interval))}`}`;
    return b.unclear
      ? finding('burst', 'undecided', `The pressure ${fell}; at one reading every ${seconds(c.interval)} a burst cannot be told from a quick vent.`, m)
      : finding('burst', 'broken', `The pressure ${fell}${b.ventShut === true ? ' while the vent was shut' : ''}: an assembly or a connection burst or came off. The highest pressure just before was ${bar(b.pressure, step)}.`, m);
  }
  const lost = cycle.lostInGap;
  if (lost !== null) {
    return finding('burst', 'undecided', `The pressure fell to ${bar(lost.to, step)} during a gap of ${seconds(lost.seconds)}; the cause is unknown.`, { at: lost.at });
  }
  return finding('burst', 'met', cycle.holdDone ? 'There was no sudden loss of pressure up to the end of the hold.' : 'There was no sudden loss of pressure.', {});
}
