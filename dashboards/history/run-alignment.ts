import type { RunDetail } from '../../src/server/history-answers.js';
import type { Gap } from '../shared/trace-source.js';

/** What is laid over what: the starts of the hold, or the first rises. */
export type Align = 'hold' | 'rise';

/** s on the store's clock: the moment of a run that is laid over that of another; its start where it has no such moment. */
export function alignment({ outcome, from }: RunDetail, align: Align): number {
  const cycle = outcome.cycles[0];
  return (align === 'hold' ? cycle?.settled : cycle?.rising) ?? cycle?.rising ?? from;
}

/** Stretches of a run without readings, as they were found when it was judged. */
export const gapsOf = ({ outcome }: RunDetail, shift: number): Gap[] =>
  outcome.events.flatMap(({ kind, at, width }) => (kind === 'gap' && width !== undefined ? [{ from: at + shift, to: at + width + shift }] : []));
