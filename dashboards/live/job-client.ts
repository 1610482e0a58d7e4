import type { JobState, RunAbout } from '../../src/server/operator-desk.js';
import { reach } from '../shared/reach.js';

export type { JobState, RunAbout };
export type Job = NonNullable<JobState['last']>['job'];

/** A job as the form has it: the assemblies as a text with ranges. */
export type WrittenJob = Readonly<Record<string, string | number>>;

/** Asks the daemon of one bench; an answer that is no good becomes an error with its sentence. */
export class JobClient {
  readonly #bench: string;

  constructor(bench: string) {
    this.#bench = `/api/benches/${encodeURIComponent(bench)}`;
  }

  jobs(): Promise<JobState> {
    return this.#ask('GET', '/job') as Promise<JobState>;
  }
  keyIn(job: WrittenJob, who: string): Promise<JobState> {
    return this.#ask('PUT', '/job', { job, who }) as Promise<JobState>;
  }
  sameAgain(who: string): Promise<JobState> {
    return this.#ask('POST', '/job/again', { who }) as Promise<JobState>;
  }
  retest(run: number, assembly: string, who: string): Promise<JobState> {
    return this.#ask('POST', '/job/retest', { run, assembly, who }) as Promise<JobState>;
  }
  putAside(): Promise<JobState> {
    return this.#ask('DELETE', '/job') as Promise<JobState>;
  }
  about(run: number): Promise<RunAbout> {
    return this.#ask('GET', `/runs/${run}`) as Promise<RunAbout>;
  }
  say(run: number, entry: object, who: string, why: string): Promise<RunAbout> {
    return this.#ask('POST', `/runs/${run}/entries`, { entry, who, ...(why.trim() !== '' && { why }) }) as Promise<RunAbout>;
  }

  /** Address of a document of a run, such as `certificate.pdf`. */
  document(run: number, name: string): string {
    return `${this.#bench}/runs/${run}/${name}`;
  }
  orderDocument(order: string, name: string): string {
    return `${this.#bench}/orders/${encodeURIComponent(order)}/${name}`;
  }

  async #ask(method: string, path: string, body?: object): Promise<unknown> {
    const answer = await reach(`${this.#bench}${path}`, { method, ...(body && { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }) });
    const said: unknown = await answer.json().catch(() => null);
    if (answer.ok) return said;
    throw new Error(typeof said === 'object' && said !== null && 'error' in said && typeof said.error === 'string' ? said.error : `the daemon answered ${answer.status}`);
  }
}
