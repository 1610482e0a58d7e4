/** What the page shows, as its address says it, so that it can be bookmarked and sent on. */
export interface PageAddress {
  readonly bench: string | null;
  readonly view: 'runs' | 'run' | 'statistics';
  /** What is searched for: only what was given. */
  readonly search: Readonly<Partial<Record<SearchField, string>>>;
  readonly run: number | null;
  /** The run laid over it. */
  readonly with: number | null;
  readonly align: 'hold' | 'rise';
  /** s from the start of the run: what the trace shows; `null` for all of it. */
  readonly zoom: readonly [from: number, to: number] | null;
  readonly statistics: StatisticsAddress | null;
}

export interface StatisticsAddress {
  readonly plan: string;
  readonly hose: string;
  readonly measure: 'leak' | 'drop';
  /** `null`: whatever their number. */
  readonly together: number | null;
}

export const searchFields = ['text', 'order', 'serial', 'hose', 'plan', 'result', 'from', 'to'] as const;
export type SearchField = (typeof searchFields)[number];

/** Nothing but the bench. */
export const emptyAddress = (bench: string | null): PageAddress => ({ bench, view: 'runs', search: {}, run: null, with: null, align: 'hold', zoom: null, statistics: null });

export function readAddress(text: string): PageAddress {
  const given = new URLSearchParams(text);
  const number = (key: string): number | null => {
    const value = Number(given.get(key) ?? Number.NaN);
    return Number.isSafeInteger(value) && value > 0 ? value : null;
  };
  const run = number('run');
  const zoom = (given.get('zoom') ?? '').split('~').map(Number);
  const [from = Number.NaN, to = Number.NaN] = zoom;
  const plan = given.get('of');
  return {
    bench: given.get('bench'),
    view: run !== null ? 'run' : given.get('view') === 'statistics' ? 'statistics' : 'runs',
    search: Object.fromEntries(searchFields.flatMap((key) => (given.get(key) ? [[key, given.get(key)]] : []))),
    run,
    with: number('with'),
    align: given.get('align') === 'rise' ? 'rise' : 'hold',
    zoom: zoom.length === 2 && to > from ? [from, to] : null,
    statistics: plan === null ? null : { plan, hose: given.get('hoses') ?? '', measure: given.get('measure') === 'drop' ? 'drop' : 'leak', together: number('together') },
  };
}

/** The address that shows it: `?...`. */
export function writeAddress({ bench, view, search, run, with: other, align, zoom, statistics }: PageAddress): string {
  const query = new URLSearchParams();
  const put = (key: string, value: string | number | null): void => {
    if (value !== null && value !== '') query.set(key, String(value));
  };
  put('bench', bench);
  for (const field of searchFields) put(field, search[field] ?? null);
  if (view === 'run') {
    put('run', run);
    put('with', other);
    put('align', other !== null && align === 'rise' ? align : null);
    put('zoom', zoom === null ? null : zoom.map((s) => Number(s.toFixed(3))).join('~'));
  }
  if (view === 'statistics') {
    put('view', view);
    if (statistics !== null) {
      // A plan without a name is a group of its own, too.
      query.set('of', statistics.plan);
      put('hoses', statistics.hose);
      put('measure', statistics.measure === 'drop' ? 'drop' : null);
      put('together', statistics.together);
    }
  }
  return `?${query.toString()}`;
}
