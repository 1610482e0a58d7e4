import type { Change } from '../../src/library/difference.js';
import type { CheckAnswer, DifferenceAnswer, JudgedBy, PlanInForce, PlanList, SettingAnswer, VersionInfo } from '../../src/server/setup-answers.js';
import { reach } from './reach.js';

export type { Change, CheckAnswer, DifferenceAnswer, JudgedBy, PlanInForce, PlanList, SettingAnswer, VersionInfo };
export type { PlanLine, WrittenField } from '../../src/server/setup-answers.js';

/** New texts of fields by key; an empty one leaves the field out. */
export type Edits = Readonly<Record<string, string>>;

/** What the daemon refused, with the fields that it is about. */
export class Refusal extends Error {
  constructor(
    message: string,
    readonly problems: readonly { readonly place: string; readonly text: string }[],
    /** Somebody saved meanwhile. */
    readonly conflict: { readonly newest: VersionInfo | null; readonly theirs: readonly Change[]; readonly yours: readonly Change[] } | null,
  ) {
    super(message);
  }
}

/** Asks for the plans and thresholds of one bench. */
export class SetupClient {
  readonly #bench: string;

  constructor(bench: string) {
    this.#bench = `/api/benches/${encodeURIComponent(bench)}`;
  }

  find(text: string, retired = false): Promise<PlanList> {
    return this.#ask('GET', `/plans?find=${encodeURIComponent(text)}${retired ? '&retired=1' : ''}`) as Promise<PlanList>;
  }
  choose(key: string, who: string): Promise<PlanInForce> {
    return this.#ask('POST', '/plan', { key, who }) as Promise<PlanInForce>;
  }
  /** @param at `/plans/KEY` or `/thresholds` */
  open(at: string): Promise<SettingAnswer> {
    return this.#ask('GET', at) as Promise<SettingAnswer>;
  }
  difference(at: string, from: number, to: number): Promise<DifferenceAnswer> {
    return this.#ask('GET', `${at}/difference?from=${from}&to=${to}`) as Promise<DifferenceAnswer>;
  }
  save(at: string, base: number, changes: Edits, who: string, why: string): Promise<SettingAnswer> {
    return this.#ask('PUT', at, { base, changes, who, why }) as Promise<SettingAnswer>;
  }
  goBack(at: string, to: number, base: number, who: string, why: string): Promise<SettingAnswer> {
    return this.#ask('POST', `${at}/back`, { to, base, who, why }) as Promise<SettingAnswer>;
  }
  retire(at: string, base: number, who: string, why: string): Promise<SettingAnswer> {
    return this.#ask('POST', `${at}/retire`, { base, who, why }) as Promise<SettingAnswer>;
  }
  create(text: string, changes: Edits, who: string, why: string): Promise<SettingAnswer> {
    return this.#ask('POST', '/plans', { text, changes, who, why }) as Promise<SettingAnswer>;
  }
  /** What would be wrong; nothing is written. @param at `/plans` or `/thresholds` */
  check(at: string, text: string, changes: Edits): Promise<CheckAnswer> {
    return this.#ask('POST', `${at}/check`, { text, changes }) as Promise<CheckAnswer>;
  }
  fromHose(wanted: object): Promise<CheckAnswer> {
    return this.#ask('POST', '/plans/from-hose', wanted) as Promise<CheckAnswer>;
  }

  async #ask(method: string, path: string, body?: object): Promise<unknown> {
    const answer = await reach(`${this.#bench}${path}`, { method, ...(body && { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }) });
    const said = (await answer.json().catch(() => null)) as { error?: string; problems?: Refusal['problems']; theirs?: Change[]; yours?: Change[]; newest?: VersionInfo | null } | null;
    if (answer.ok) return said;
    if (answer.status === 401) location.assign(`/sign-in/?to=${encodeURIComponent(location.pathname + location.search)}`);
    const conflict = said?.theirs && said.yours ? { newest: said.newest ?? null, theirs: said.theirs, yours: said.yours } : null;
    throw new Refusal(said?.error ?? `the daemon answered ${answer.status}`, said?.problems ?? [], conflict);
  }
}
