import type { FoundRuns, Groups, RunDetail, Statistics, TraceStretch } from '../../src/server/history-answers.js';
import type { RunAbout } from '../../src/server/operator-desk.js';
import type { PageAddress, StatisticsAddress } from './page-address.js';

type Query = Readonly<Record<string, string | number | null | undefined>>;

/** Asks the daemon for the runs of one bench; an answer that is no good becomes an error with its sentence. */
export class HistoryClient {
  readonly #bench: string;

  constructor(bench: string) {
    this.#bench = `/api/benches/${encodeURIComponent(bench)}`;
  }

  runs(search: PageAddress['search'], before: number | null, signal: AbortSignal): Promise<FoundRuns> {
    return this.#ask('history/runs', { ...search, before }, signal) as Promise<FoundRuns>;
  }
  run(run: number, signal: AbortSignal): Promise<RunDetail> {
    return this.#ask(`history/runs/${run}`, {}, signal) as Promise<RunDetail>;
  }
  /** Job, assemblies, what was said, and its documents. */
  about(run: number, signal: AbortSignal): Promise<RunAbout> {
    return this.#ask(`runs/${run}`, {}, signal) as Promise<RunAbout>;
  }
  trace(run: number, window: { readonly from?: number; readonly to?: number; readonly columns: number }, signal: AbortSignal): Promise<TraceStretch> {
    return this.#ask(`history/runs/${run}/trace`, window, signal) as Promise<TraceStretch>;
  }
  groups(signal: AbortSignal): Promise<Groups> {
    return this.#ask('history/groups', {}, signal) as Promise<Groups>;
  }
  statistics(wanted: StatisticsAddress, signal: AbortSignal): Promise<Statistics> {
    return this.#ask('history/statistics', queryOf(wanted), signal) as Promise<Statistics>;
  }

  /** Address of the found runs as a table. */
  table(search: PageAddress['search']): string {
    return this.#address('history/runs.csv', search);
  }
  statisticsTable(wanted: StatisticsAddress): string {
    return this.#address('history/statistics.csv', queryOf(wanted));
  }
  /** Address of a document of a run, such as `certificate.pdf`. */
  document(run: number, name: string, query: Query = {}): string {
    return this.#address(`runs/${run}/${name}`, query);
  }

  #address(path: string, query: Query): string {
    const given = Object.entries(query).flatMap(([key, value]) => (value === null || value === undefined ? [] : [[key, String(value)]]));
    const text = new URLSearchParams(given).toString();
    return `${this.#bench}/${path}${text === '' ? '' : `?${text}`}`;
  }

  async #ask(path: string, query: Query, signal: AbortSignal): Promise<unknown> {
    const answer = await fetch(this.#address(path, query), { signal });
    const said: unknown = await answer.json().catch(() => null);
    if (answer.ok) return said;
    if (answer.status === 401) location.assign(`/sign-in/?to=${encodeURIComponent(location.pathname + location.search)}`);
    throw new Error(typeof said === 'object' && said !== null && 'error' in said && typeof said.error === 'string' ? said.error : `the daemon answered ${answer.status}`);
  }
}

const queryOf = ({ plan, hose, measure, together }: StatisticsAddress): Query => ({ plan, hose, measure, together });
