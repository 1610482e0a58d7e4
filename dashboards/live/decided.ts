import type { WireView } from '../../src/sinks/live-protocol.js';

/** What is certain of a run although it still goes on. */
export interface DecidedLine {
  /** Number of the cycle in which it came about. */
  readonly cycle: number;
  /** The daemon's own sentence. */
  readonly text: string;
}

const failed = 'It failed:';
const cannotPass = 'It cannot pass:';

/** True for a sentence that says what has happened, not what might. */
export const decides = (text: string): boolean => text.startsWith(failed) || text.startsWith(cannotPass);

/** The lines that are decided after a view, those that fail a run first. */
export function decidedAfter(known: readonly DecidedLine[], before: WireView | null, view: WireView): readonly DecidedLine[] {
  if (view.runSince === null || view.verdict !== 'pending') return [];
  const kept = before?.runSince === view.runSince ? known : [];
  const said = view.deciding.filter(decides).map((text): DecidedLine => ({ cycle: view.cycle, text }));
  // During a cycle only its newest lines hold: the start of the hold may have been moved. After the hold and between cycles the
  // daemon no longer says all of them, and they stay true.
  const moving = view.phase === 'rising' || view.phase === 'settling' || (view.phase === 'holding' && view.holdLeft !== 0);
  const others = kept.filter(({ cycle, text }) => (cycle === view.cycle ? !moving && !said.some((line) => sameMatter(line.text, text)) : true));
  return [...others, ...said].sort((a, b) => Number(b.text.startsWith(failed)) - Number(a.text.startsWith(failed)));
}

/** Figures within a line go on changing; what is said in words tells what it is about. */
const sameMatter = (one: string, other: string): boolean => one.replace(/[\d.]+/g, '') === other.replace(/[\d.]+/g, '');

/** How far a run is decided while it goes on; `null`: not yet. */
export function decidedResult(lines: readonly DecidedLine[]): 'failed' | 'cannot pass' | null {
  if (lines.some(({ text }) => text.startsWith(failed))) return 'failed';
  return lines.length > 0 ? 'cannot pass' : null;
}

/** True where real pressure went above the ceiling, told in a line of the present run or in the reason of a finished one. */
export const ceilingPassed = (sentences: readonly string[]): boolean => sentences.some((text) => text.includes('above the ceiling of') && !text.includes('is in doubt'));
