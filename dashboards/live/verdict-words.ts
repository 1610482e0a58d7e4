import type { Verdict } from '../../src/core/outcome.js';
import { lastRun, type LiveState } from './live-state.js';

/** The shape that goes with a word; drawn by `shapes.ts`. */
export type Shape = 'ring' | 'disc-tick' | 'octagon-cross' | 'diamond-question' | 'broken-ring';

export interface VerdictWords {
  readonly shape: Shape;
  /** Decides the colour, after word and shape. */
  readonly tone: 'quiet' | 'good' | 'bad' | 'unsure';
  readonly title: string;
  /** Why, or what would decide it; each a sentence. */
  readonly lines: readonly string[];
}

const finished: Readonly<Record<Verdict, Pick<VerdictWords, 'shape' | 'tone' | 'title'>>> = {
  pass: { shape: 'disc-tick', tone: 'good', title: 'Pass' },
  fail: { shape: 'octagon-cross', tone: 'bad', title: 'Fail' },
  inconclusive: { shape: 'diamond-question', tone: 'unsure', title: 'Inconclusive' },
};

/** Word, shape and reasons for a finished run's verdict. */
export const wordsOf = (verdict: Verdict): Pick<VerdictWords, 'shape' | 'tone' | 'title'> => finished[verdict];

/** True where a person saw leakage: then the run is no pass, whatever the pressure showed. */
export const leakSeen = (visual: string | null): boolean => visual?.startsWith('leakage seen') === true;

/** The verdict of a finished run with what a person saw. */
export const shownVerdict = (verdict: Verdict, visual: string | null): Verdict => (leakSeen(visual) ? 'fail' : verdict);

const look = 'The pressure held. Only a person can see a weep: look at every assembly once the bench is vented.';

/**
 * What the verdict panel says. With stale data there is no verdict to read: the run that it belonged to may be over, or
 * another one under way.
 */
export function verdictWords(state: LiveState | null, stale: boolean): VerdictWords {
  if (state === null || stale) {
    return { shape: 'broken-ring', tone: 'quiet', title: 'Not known now', lines: ['No live data, so no verdict is shown.'] };
  }
  const verdict = state.view?.verdict ?? null;
  if (verdict === null) return { shape: 'ring', tone: 'quiet', title: 'No run yet', lines: ['The first rise of the pressure starts one.'] };
  if (verdict === 'pending') return { shape: 'ring', tone: 'quiet', title: 'Pending', lines: state.view?.deciding ?? [] };
  const run = lastRun(state);
  // The record can come a moment after the verdict; reasons of an earlier run must not stand under it.
  const reasons = run?.verdict === verdict && run.reasons.length > 0 ? run.reasons : (state.view?.deciding ?? []);
  const visual = run?.verdict === verdict ? run.visual : null;
  const seen = visual === null ? [] : [`Seen by the operator: ${visual}.`];
  if (leakSeen(visual)) return { ...finished.fail, lines: [...seen, ...(verdict === 'pass' ? ['The pressure held, and yet an assembly leaked.'] : reasons)] };
  return { ...finished[verdict], lines: [...reasons, ...(verdict === 'pass' && seen.length === 0 ? [look] : seen)] };
}
