import type { Notice } from '../../server/bench-feed.js';

/** Something that somebody is told, wherever they are. */
export interface Alert {
  readonly bench: string;
  /** Stable name of what it is about: `link`, `store`, `run`, `trial`... */
  readonly subject: string;
  /** `begun`: it is so now; `still`: it was told before and goes on; `over`: it is no longer so; `told`: it happened. */
  readonly state: 'begun' | 'still' | 'over' | 'told';
  readonly weight: Notice['weight'];
  /** One plain sentence; of something that is over, the sentence that was told before. */
  readonly text: string;
  /** ms since 1970: when it began, ended or happened. */
  readonly wall: number;
}

const lead = { begun: '', still: 'still: ', over: 'over: ', told: '' } as const;

/** The alert as one line: `Bay 2, alarm: no data from /dev/ttyUSB0`. */
export function alertLine({ bench, weight, state, text }: Alert): string {
  return `${bench}, ${state === 'over' ? '' : `${weight}: `}${lead[state]}${text}`.replaceAll(/\s+/g, ' ');
}

/** What is sent to a webhook: the members only ever become more. */
export function alertJson(alert: Alert, software: string): Record<string, string> {
  const { bench, subject, state, weight, text, wall } = alert;
  // `summary` is where many chat services look for something to show.
  return { bench, subject, state, weight, sentence: text, time: new Date(wall).toISOString(), summary: alertLine(alert), text: alertLine(alert), software };
}
