import type { Verdict } from '../../src/core/outcome.js';

/** The shape that goes with a word; drawn by `shapes.ts`. */
export type Shape = 'ring' | 'disc-tick' | 'octagon-cross' | 'diamond-question' | 'broken-ring';

/** Word and shape for a verdict; the tone decides the colour, after both. */
export interface VerdictLook {
  readonly shape: Shape;
  readonly tone: 'quiet' | 'good' | 'bad' | 'unsure';
  readonly title: string;
}

const finished: Readonly<Record<Verdict, VerdictLook>> = {
  pass: { shape: 'disc-tick', tone: 'good', title: 'Pass' },
  fail: { shape: 'octagon-cross', tone: 'bad', title: 'Fail' },
  inconclusive: { shape: 'diamond-question', tone: 'unsure', title: 'Inconclusive' },
};

/** Word, shape and tone of a finished run's verdict. */
export const lookOfVerdict = (verdict: Verdict): VerdictLook => finished[verdict];

/** True where a person saw leakage: then the run is no pass, whatever the pressure showed. */
export const leakSeen = (visual: string | null): boolean => visual?.startsWith('leakage seen') === true;

/** The verdict of a finished run with what a person saw. */
export const shownVerdict = (verdict: Verdict, visual: string | null): Verdict => (leakSeen(visual) ? 'fail' : verdict);
