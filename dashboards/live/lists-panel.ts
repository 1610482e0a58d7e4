import type { PressureUnit } from '../../src/core/units.js';
import { eventSentence, lookOf } from '../shared/event-words.js';
import { inUnit, pressureText } from '../shared/figures.js';
import type { LiveState } from './live-state.js';
import { fill, make, part } from '../shared/page-parts.js';
import { shapeOf } from '../shared/shapes.js';
import { clockTime, dayTime, duration } from '../shared/time-words.js';
import type { Gap } from '../shared/trace-source.js';
import { gapWords } from '../shared/trace-layers.js';
import { leakSeen, lookOfVerdict, shownVerdict } from '../shared/verdict-looks.js';

export interface ListActions {
  /** Shows the surroundings of a moment, s. */
  showMoment(time: number): void;
  /** Lays a finished run under the trace, or takes it away. */
  layUnder(run: string): void;
}

const mostShown = 60;

/** Events of the present or last run, newest first; strokes are counted elsewhere and drawn on the trace. */
export function showEvents(state: LiveState | null, gaps: readonly Gap[], unit: PressureUnit, actions: ListActions): void {
  const anchor = state?.setup.anchor ?? { time: 0, wall: 0 };
  const text = (bar: number): string => pressureText(bar, unit, state?.setup.resolution ?? null);
  const found = (state?.events ?? [])
    .filter(({ kind }) => kind !== 'stroke' && kind !== 'gap')
    .map((event) => ({ at: event.at, sentence: eventSentence(event, text, duration), grave: lookOf(event.kind).grave }));
  const silent = gaps.map((gap) => ({ at: gap.from, sentence: gapWords(gap), grave: true }));
  const all = [...found, ...silent].sort((a, b) => b.at - a.at).slice(0, mostShown);
  const key = `${unit} ${anchor.wall} ${all.map(({ at, sentence }) => `${at} ${sentence}`).join('\n')}`;
  fill(part('events'), key, () =>
    all.length === 0
      ? [make('li', 'none', 'Nothing unusual so far.')]
      : all.map(({ at, sentence, grave }) => {
          const button = make('button', '', 'Show');
          button.setAttribute('aria-label', `Show ${sentence} on the trace`);
          button.addEventListener('click', () => actions.showMoment(at));
          return make('li', 'event', make('time', '', clockTime(at, anchor, 1)), make('span', grave ? 'why grave' : 'why', sentence), button);
        }),
  );
}

/** Finished runs, newest first, with word, shape and reason. */
export function showRuns(state: LiveState | null, unit: PressureUnit, under: string | null, actions: ListActions): void {
  const runs = state?.runs ?? [];
  const key = `${unit} ${under} ${runs.map(({ id, visual }) => `${id} ${visual}`).join(' ')}`;
  fill(part('runs'), key, () =>
    runs.length === 0
      ? [make('li', 'none', 'No finished run yet.')]
      : runs.map((run) => {
          const { shape, title, tone } = lookOfVerdict(shownVerdict(run.verdict, run.visual));
          const reason = leakSeen(run.visual) ? (run.visual ?? '') : run.reasons[0] === undefined ? `peak ${pressureText(run.peak, unit, state?.setup.resolution ?? null)}` : inUnit(run.reasons[0], unit);
          const button = make('button', '', run.id === under ? 'Remove' : 'Compare');
          button.setAttribute('aria-pressed', String(run.id === under));
          button.setAttribute('aria-label', `${button.textContent}: the run of ${dayTime(run.wall)} under the trace`);
          button.addEventListener('click', () => actions.layUnder(run.id));
          const item = make('li', 'run', make('span', 'short', shapeOf(shape), title), button, make('time', '', dayTime(run.wall)), make('span', 'why', reason));
          item.dataset['tone'] = tone;
          return item;
        }),
  );
}

/** What people should know of the bench itself. An alarm, or a lid open under pressure, cannot be overlooked. */
export function showNotices(state: LiveState | null, stale: boolean, outdated: boolean): void {
  const notices = state?.health?.notices ?? [];
  const alarms = [
    ...(outdated ? ['The daemon was updated: load this page again.'] : []),
    ...(stale && state !== null ? ['No live data: do not rely on this page.'] : []),
    ...(state?.health?.recording === false ? ['Nothing is being recorded.'] : []),
    ...notices.filter(({ weight }) => weight === 'alarm').map(({ text }) => text),
  ];
  const alarm = part('alarm');
  alarm.hidden = alarms.length === 0;
  if (alarm.textContent !== alarms.join(' ')) alarm.textContent = alarms.join(' ');
  const others = notices.filter(({ weight }) => weight !== 'alarm');
  part('notices').hidden = others.length === 0;
  fill(part('notices'), others.map(({ weight, text }) => `${weight} ${text}`).join('\n'), () =>
    others.map(({ weight, text }) => {
      const item = make('li', '', text);
      item.dataset['weight'] = weight;
      return item;
    }),
  );
}
