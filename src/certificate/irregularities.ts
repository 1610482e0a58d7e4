import type { EventKind, FoundEvent, Outcome } from '../core/outcome.js';
import type { Mark } from '../core/trace.js';
import type { RunStory } from '../records/run-story.js';
import { visualWords } from '../records/visual-finding.js';
import { localTime } from './local-time.js';
import { onRunClock, sentenceOnRunClock } from './run-clock.js';

/** Lines listed one by one; beyond it a document says how many there were. */
const listed = 24;

const eventWords: Readonly<Record<EventKind, string>> = {
  stroke: 'pump stroke', spike: 'pressure spike', glitch: 'electrical glitch, not counted as pressure', overshoot: 'overshoot', 'top-up': 'pressure added in the hold',
  breach: 'below the minimum', burst: 'sudden loss', gap: 'no data', saturation: 'beyond the range of the transducer', flatline: 'reading did not move',
  'zero-shift': 'zero moved', 'lid-open': 'lid open under pressure',
};

/** Everything out of the ordinary about a run, each a line: found in the signal, noticed by the bench, changed afterwards. */
export function irregularities(story: RunStory, marks: readonly Mark[], zone: string): string[] {
  const { run, judgement } = story;
  const to = run.to ?? run.from;
  const found = bounded(judgement.outcome.events.filter(({ kind }) => kind !== 'stroke').map((event) => eventLine(event, run.from)), 'more events; the record as JSON lists them all');
  const noticed = bounded(marks.flatMap((mark) => markLine(mark, run.from)), 'more notices; the record as JSON lists them all');
  return [
    ...(run.state === 'interrupted' ? ['The program was not running during a part of this run.'] : []),
    ...judgement.outcome.notes.map((note) => sentenceOnRunClock(note, run.from, to)),
    ...found,
    ...noticed,
    ...changes(story, zone),
  ];
}

function bounded(lines: readonly string[], more: string): string[] {
  return lines.length <= listed ? [...lines] : [...lines.slice(0, listed), `${lines.length - listed} ${more}`];
}

function eventLine({ kind, at, height, width, pressure, unclear, note }: FoundEvent, from: number): string {
  const size = [
    height === undefined ? '' : `${height} bar`,
    width === undefined ? '' : `${Number(width.toPrecision(3))} s long`,
    pressure === undefined ? '' : `at ${pressure} bar`,
    unclear === true ? 'electrical or hydraulic, the sample rate cannot tell' : '',
    note ?? '',
  ].filter((part) => part !== '');
  return `${onRunClock(at, from)}: ${[eventWords[kind], ...size].join(', ')}`;
}

function markLine({ time, kind, text }: Mark, from: number): string[] {
  // Contacts that moved as they should are no irregularity.
  if (kind !== 'signal-lost' && kind !== 'clock-step') return [];
  return [`${onRunClock(time, from)}: ${text ?? (kind === 'signal-lost' ? 'the signal was lost' : 'the clock was set')}`];
}

/** What was said once and said otherwise later: both stay on the document. */
function changes({ run, jobs, visuals, judgement }: RunStory, zone: string): string[] {
  const when = (wall: number) => localTime(wall, zone);
  const because = (why: string | null) => (why === null ? '' : `: ${why}`);
  const { again } = judgement;
  return [
    ...jobs.slice(1).map(({ wall, who, why }) => `Job details changed ${when(wall)} by ${who}${because(why)}`),
    ...visuals.slice(1).map(({ wall, who, why }, i) => {
      const before = visuals[i];
      return `Visual finding changed ${when(wall)} by ${who}${because(why)}${before === undefined ? '' : ` (before: ${visualWords(before.entry)}, by ${before.who})`}`;
    }),
    ...(again === null ? [] : [`Judged again ${when(again.wall)} by ${again.who}${because(again.why)} (first verdict: ${verdictFirst(run.outcome)})`]),
  ];
}

const verdictFirst = (outcome: Outcome | null): string => outcome?.verdict ?? 'none';
