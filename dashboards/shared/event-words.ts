import type { EventKind, FoundEvent } from '../../src/core/outcome.js';

/** How an event reads and which shape stands for it on the trace. */
interface EventLook {
  readonly word: string;
  readonly shape: 'tick' | 'peak' | 'notch' | 'drop' | 'square' | 'lid';
  /** True where it makes the run fail or leaves it undecided, or people are at risk. */
  readonly grave: boolean;
}

const looks: Readonly<Record<EventKind, EventLook>> = {
  stroke: { word: 'stroke', shape: 'tick', grave: false },
  spike: { word: 'spike', shape: 'peak', grave: false },
  glitch: { word: 'glitch', shape: 'notch', grave: false },
  overshoot: { word: 'overshoot', shape: 'peak', grave: false },
  'top-up': { word: 'top-up', shape: 'peak', grave: true },
  breach: { word: 'below minimum', shape: 'drop', grave: true },
  burst: { word: 'burst', shape: 'drop', grave: true },
  gap: { word: 'gap', shape: 'square', grave: true },
  saturation: { word: 'beyond range', shape: 'square', grave: true },
  flatline: { word: 'not moving', shape: 'square', grave: true },
  'zero-shift': { word: 'zero off', shape: 'square', grave: false },
  'lid-open': { word: 'lid open', shape: 'lid', grave: true },
};

export const lookOf = (kind: EventKind): EventLook => looks[kind];

const heightMeans: Partial<Record<EventKind, string>> = {
  stroke: 'rise', spike: 'height', glitch: 'size', overshoot: 'height', 'top-up': 'rise', breach: 'depth', 'zero-shift': 'size',
};

/** One event in words, without its time. `shown` writes a pressure (bar) in the page's unit, `lasting` a duration (s). */
export function eventSentence(event: FoundEvent, shown: (bar: number) => string, lasting: (s: number) => string): string {
  const parts = [
    event.kind === 'burst' && event.pressure !== undefined ? `from ${shown(event.pressure)}` : '',
    event.height !== undefined && heightMeans[event.kind] ? `${heightMeans[event.kind]} ${shown(event.height)}` : '',
    event.width !== undefined && event.width > 0 ? lasting(event.width) : '',
    event.unclear ? 'too few readings to tell electrical from hydraulic' : '',
    event.note ?? '',
  ].filter((part) => part !== '');
  return [looks[event.kind].word, parts.join(', ')].filter((part) => part !== '').join(': ');
}
