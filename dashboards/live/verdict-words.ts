import { leakSeen, lookOfVerdict, type VerdictLook } from '../shared/verdict-looks.js';
import { decidedResult, decides } from './decided.js';
import { lastRun, underWay, type LiveState } from './live-state.js';

export interface VerdictWords extends VerdictLook {
  /** Why, or what would decide it; each a sentence. */
  readonly lines: readonly string[];
}

const look = 'The pressure held. Only a person can see a weep: look at every assembly once the bench is vented.';

/**
 * What the verdict panel says. With stale data there is no verdict to read: the run that it belonged to may be over, or
 * another one under way.
 */
export function verdictWords(state: LiveState | null, stale: boolean): VerdictWords {
  if (state === null || stale) {
    return { shape: 'broken-ring', tone: 'quiet', title: 'Not known now', lines: ['No live data, so no verdict is shown.'] };
  }
  if (underWay(state)) return goingOn(state);
  const verdict = state.view?.verdict ?? null;
  if (verdict === null) return { shape: 'ring', tone: 'quiet', title: 'No run yet', lines: ['The first rise of the pressure starts one.'] };
  if (verdict === 'pending') return goingOn(state);
  const run = lastRun(state);
  // The record can come a moment after the verdict; reasons of an earlier run must not stand under it.
  const reasons = run?.verdict === verdict && run.reasons.length > 0 ? run.reasons : (state.view?.deciding ?? []);
  const visual = run?.verdict === verdict ? run.visual : null;
  const seen = visual === null ? [] : [`Seen by the operator: ${visual}.`];
  if (leakSeen(visual)) return { ...lookOfVerdict('fail'), lines: [...seen, ...(verdict === 'pass' ? ['The pressure held, and yet an assembly leaked.'] : reasons)] };
  return { ...lookOfVerdict(verdict), lines: [...reasons, ...(verdict === 'pass' && seen.length === 0 ? [look] : seen)] };
}

/** Of a run that goes on: what is certain already comes first and gives the word; what might still come stands below it. */
function goingOn({ view, decided }: LiveState): VerdictWords {
  const open = view?.deciding.filter((line) => !decides(line)) ?? [];
  const certain = decided.map(({ text }) => text);
  switch (decidedResult(decided)) {
    // What would fail it is of no interest any more.
    case 'failed':
      return { ...lookOfVerdict('fail'), title: 'Failed', lines: certain };
    case 'cannot pass':
      return { ...lookOfVerdict('inconclusive'), title: 'Cannot pass', lines: [...certain, ...open] };
    case null:
      return { shape: 'ring', tone: 'quiet', title: 'Pending', lines: open };
  }
}
