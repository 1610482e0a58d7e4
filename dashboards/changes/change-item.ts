import { button, dayAndTime, link } from '../history/page-elements.js';
import { jobWords } from '../live/job-words.js';
import { changeTable } from '../plans/change-table.js';
import { make } from '../shared/page-parts.js';
import type { DifferenceAnswer } from '../shared/setup-client.js';
import type { ToldEntry } from './changes-client.js';

/** What an entry of the list needs of its page. */
export interface ChangeItemActions {
  readonly bench: string;
  /** @param at `/plans/KEY` or `/thresholds` */
  difference(at: string, from: number, to: number): Promise<DifferenceAnswer>;
}

/** One change: when, who, what, why; what was changed, and the way to the plan or run that it concerns. */
export function changeItem(entry: ToldEntry, actions: ChangeItemActions): HTMLElement {
  const { number, wall, who, what, why, changes } = entry;
  const time = make('time', 'when', dayAndTime(wall));
  time.setAttribute('datetime', new Date(wall).toISOString());
  const details = detailsOf(entry);
  const difference = make('div', '');
  const ways = waysOf(entry, actions, difference);
  return make(
    'li', '', time, make('span', 'by', who),
    make(
      'div', 'said',
      make('div', '', make('span', 'about', aboutWords(entry)), `: ${what}`, make('span', 'number', ` (entry ${number})`)),
      ...(why === null ? [] : [make('div', 'why', `Why: ${why}`)]),
      ...(details === '' ? [] : [make('div', 'details', details)]),
      ...(changes.length === 0 ? [] : [changeTable(changes, `What was changed, entry ${number}`)]),
      ...(ways.length === 0 ? [] : [make('div', 'ways', ...ways)]),
      difference,
    ),
  );
}

const planKey = ({ subject }: ToldEntry): string => subject.slice('plan '.length);

function aboutWords(entry: ToldEntry): string {
  const { kind, subject } = entry;
  if (kind === 'plan') return `Plan ${planKey(entry)}`;
  return subject.charAt(0).toUpperCase() + subject.slice(1);
}

/** What a job said, in one line. */
const detailsOf = ({ kind, details }: ToldEntry): string => {
  if (kind !== 'job' || typeof details !== 'object' || details === null || Array.isArray(details)) return '';
  const words = jobWords(details);
  return words.charAt(0).toUpperCase() + words.slice(1);
};

/** @param place where what a version changed is shown */
function waysOf(entry: ToldEntry, actions: ChangeItemActions, place: HTMLElement): HTMLElement[] {
  const { kind, number, run } = entry;
  const query = `bench=${encodeURIComponent(actions.bench)}`;
  const version = numberIn(entry.details, 'version');
  const at = kind === 'plan' ? `/plans/${encodeURIComponent(planKey(entry))}` : kind === 'thresholds' ? '/thresholds' : null;
  const ways: HTMLElement[] = [];
  if (at !== null && version > 1) ways.push(differenceButton(`entry ${number}`, place, () => actions.difference(at, version - 1, version)));
  if (kind === 'plan') ways.push(link('Open the plan', `../plans/?${query}#${encodeURIComponent(planKey(entry))}`));
  if (kind === 'choice of plan') {
    const key = textIn(entry.details, 'key');
    if (key !== '') ways.push(link('Open the plan', `../plans/?${query}#${encodeURIComponent(key)}`));
  }
  const order = kind === 'job' ? textIn(entry.details, 'order') : '';
  if (run !== null) ways.push(link(`Run ${run}`, `../history/?${query}&run=${run}`));
  if (order !== '') ways.push(link('Runs of this order', `../history/?${query}&order=${encodeURIComponent(order)}`));
  return ways;
}

/** Shows and hides what a version changed; asked for when it is wanted. */
function differenceButton(name: string, place: HTMLElement, ask: () => Promise<DifferenceAnswer>): HTMLElement {
  const pressed = button('What it changed', () => {
    if (place.childElementCount > 0) {
      place.replaceChildren();
      pressed.setAttribute('aria-expanded', 'false');
      return;
    }
    pressed.setAttribute('aria-expanded', 'true');
    void ask().then(
      ({ changes, from, to }) => place.replaceChildren(changeTable(changes, `From version ${from} to version ${to}`)),
      (error: unknown) => place.replaceChildren(make('p', 'why', error instanceof Error ? error.message : String(error))),
    );
  });
  pressed.setAttribute('aria-label', `What it changed: ${name}`);
  pressed.setAttribute('aria-expanded', 'false');
  return pressed;
}

const memberOf = (value: unknown, key: string): unknown => (typeof value === 'object' && value !== null ? (value as Record<string, unknown>)[key] : undefined);
const numberIn = (value: unknown, key: string): number => {
  const found = memberOf(value, key);
  return typeof found === 'number' ? found : 0;
};
const textIn = (value: unknown, key: string): string => {
  const found = memberOf(value, key);
  return typeof found === 'string' ? found : '';
};
