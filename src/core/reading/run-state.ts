import type { FoundEvent } from '../outcome.js';
import type { CycleRecord } from './cycle-record.js';

/** Events kept for a run; more are counted and told in a note. */
const keptEvents = 4000;
/** Doubts of the acquisition and remarks kept for a run: the first say enough. */
const keptDoubts = 20;

/** A run that is being gathered, or the idle time before one. */
export interface RunState {
  open: boolean;
  /** s, first rise on the reader's clock. */
  from: number;
  cycles: CycleRecord[];
  events: FoundEvent[];
  /** Events beyond what is kept. */
  dropped: number;
  notes: string[];
  /** What the acquisition noticed that keeps the run from being decided; `at` in s on the trace's clock. */
  doubts: { at: number; text: string }[];
}

export const freshRun = (): RunState => ({ open: false, from: 0, cycles: [], events: [], dropped: 0, notes: [], doubts: [] });

/**
 * Opens a run after idle time.
 * @param from s, first rise on the reader's clock
 * @param earliest s on the trace's clock: events of the idle time from there on belong to the run
 */
export function beginRun(idle: RunState, from: number, earliest: number): RunState {
  const run = freshRun();
  run.open = true;
  run.from = from;
  run.events = idle.events.filter((e) => e.at >= earliest);
  return run;
}

/** Keeps an event, on the trace's clock. Of the idle time the older half is given up for new ones; a run keeps its first. */
export function keepEvent(s: RunState, event: FoundEvent): void {
  if (s.events.length >= keptEvents) {
    if (s.open) s.dropped++;
    else s.events.splice(0, keptEvents / 2);
  }
  if (s.events.length < keptEvents) s.events.push(event);
}

/** Keeps a doubt of the acquisition, of a run that is open; `at` in s on the trace's clock. */
export function keepDoubt(s: RunState, at: number, text: string): void {
  if (s.open && s.doubts.length < keptDoubts) s.doubts.push({ at, text });
}

/** Keeps a remark that may come again and again; the first say enough. */
export function keepRemark(s: RunState, text: string): void {
  if (s.notes.length < keptDoubts) s.notes.push(text);
}

/** The notes of a run that is over, and how many events are not listed in it. */
export const notesOf = (s: RunState): string[] => (s.dropped > 0 ? [...s.notes, `${s.dropped} more events were counted but not listed.`] : s.notes);
