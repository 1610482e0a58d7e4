import type { AuditChain, AuditKind, AuditPage, ToldEntry } from '../../src/server/audit-answers.js';

export type { AuditChain, AuditKind, AuditPage, ToldEntry };

/** What is searched for: only what was given. Stands in the address of the page. */
export type ChangesSearch = Readonly<Partial<Record<ChangesField, string>>>;
export const changesFields = ['text', 'who', 'kind', 'from', 'to'] as const;
export type ChangesField = (typeof changesFields)[number];

/** What the daemon refused, in its words. */
export class NotToldError extends Error {
  constructor(
    message: string,
    readonly status: number,
  ) {
    super(message);
  }
}

/** Asks for the entries about changes at one bench. */
export class ChangesClient {
  readonly #bench: string;

  constructor(bench: string) {
    this.#bench = `/api/benches/${encodeURIComponent(bench)}`;
  }

  page(search: ChangesSearch, before: number | null, limit: number): Promise<AuditPage> {
    return this.#ask(`audit?${new URLSearchParams({ ...search, limit: String(limit), ...(before !== null && { before: String(before) }) }).toString()}`) as Promise<AuditPage>;
  }
  chain(): Promise<AuditChain> {
    return this.#ask('audit/chain') as Promise<AuditChain>;
  }
  /** Address of the found entries as a table. */
  table(search: ChangesSearch): string {
    return `${this.#bench}/audit.csv?${new URLSearchParams(search).toString()}`;
  }

  async #ask(path: string): Promise<unknown> {
    const answer = await fetch(`${this.#bench}/${path}`);
    const said: unknown = await answer.json().catch(() => null);
    if (answer.ok) return said;
    if (answer.status === 401) location.assign(`/sign-in/?to=${encodeURIComponent(location.pathname + location.search)}`);
    throw new NotToldError(typeof said === 'object' && said !== null && 'error' in said && typeof said.error === 'string' ? said.error : `the daemon answered ${answer.status}`, answer.status);
  }
}
