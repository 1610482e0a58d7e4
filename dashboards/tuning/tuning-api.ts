import { parse, stringify } from 'yaml';
import { z } from 'zod';
import { parseThresholds, standardThresholds, type Thresholds } from '../../src/core/thresholds.js';
import { openParcel, type Parcel } from '../../src/server/run-parcel.js';
import { planList, setting } from '../../src/server/description/setting-shapes.js';
import type { SettingAnswer } from '../../src/server/setup-answers.js';
import type { TuningRun } from '../../src/server/tuning-routes.js';
import { toSignIn } from '../shared/signed-in.js';
import type { Changes } from './change-history.js';

/** An answer that says no, in words for people. */
export class Refusal extends Error {
  override readonly name = 'Refusal';
  constructor(message: string, readonly status: number, readonly problems: readonly { readonly place: string; readonly text: string }[] = []) {
    super(message);
  }
}

const refused = z.object({ error: z.string(), problems: z.array(z.object({ place: z.string(), text: z.string() })).optional() });
const runList = z.object({
  runs: z.array(
    z.object({
      run: z.number(), wall: z.number(), seconds: z.number(), verdict: z.enum(['pass', 'fail', 'inconclusive']), plan: z.string().nullable(),
      hose: z.string().nullable(), order: z.string().nullable(), truth: z.enum(['truly leaking', 'truly sound', 'cannot tell']).nullable(), readable: z.boolean(),
    }),
  ),
  more: z.number().nullable(),
});
const versioned = z.object({ version: z.number(), text: z.string(), versions: z.array(z.object({ version: z.number(), who: z.string().nullable().catch(null), why: z.string().nullable().catch(null) })).catch([]) });
const me = z.object({ signIn: z.boolean(), person: z.object({ name: z.string().nullable(), role: z.string() }).nullable() });
const labelled = z.object({
  labels: z.object({ truth: z.enum(['truly leaking', 'truly sound', 'cannot tell']).nullable(), spikes: z.array(z.object({ at: z.number(), real: z.boolean() })) }),
});

export type Labels = z.output<typeof labelled>['labels'];

/** Thresholds as they are in force, with their version. */
export interface InForce {
  /** `null` where thresholds are not kept in versions here: nothing can be saved then. */
  readonly version: number | null;
  readonly text: string;
  readonly thresholds: Thresholds;
  /** Why they were chosen, and by whom, where somebody said. */
  readonly chosen: string | null;
}

/** A plan of the library, to be chosen. */
export interface PlanChoice {
  readonly key: string;
  readonly name: string;
}

/** Asks the server. @throws Refusal */
export async function answerOf(path: string, init?: RequestInit): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(path, init);
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') throw error;
    throw new Refusal('The bench does not answer. What is loaded can still be tried.', 0);
  }
  if (answer.ok) return answer;
  if (answer.status === 401) toSignIn();
  const said = refused.safeParse(await answer.json().catch(() => null));
  throw new Refusal(said.success ? said.data.error : `The server answers ${answer.status}.`, answer.status, said.success ? (said.data.problems ?? []) : []);
}

export const send = (path: string, method: string, body: unknown, signal?: AbortSignal): Promise<Response> =>
  answerOf(path, { method, headers: { 'content-type': 'application/json' }, body: JSON.stringify(body), ...(signal && { signal }) });

const asked = async <T>(schema: z.ZodType<T>, answer: Promise<Response>): Promise<T> => schema.parse(await (await answer).json());

/** The routes of one bench. */
export class TuningApi {
  readonly base: string;

  constructor(readonly bench: string) {
    this.base = `/api/benches/${encodeURIComponent(bench)}`;
  }

  runs(before: number | null): Promise<{ readonly runs: readonly TuningRun[]; readonly more: number | null }> {
    return asked(runList, answerOf(`${this.base}/tuning/runs?limit=50${before === null ? '' : `&before=${before}`}`));
  }

  async run(number: number): Promise<Parcel> {
    return openParcel(new Uint8Array(await (await answerOf(`${this.base}/tuning/runs/${number}`)).arrayBuffer()));
  }

  async inForce(): Promise<InForce> {
    try {
      return inForceOf(await asked(versioned, answerOf(`${this.base}/thresholds`)));
    } catch (error) {
      if (!(error instanceof Refusal) || error.status !== 404) throw error;
      return { version: null, text: '', thresholds: standardThresholds, chosen: null };
    }
  }

  /** Saves changes to the version they were made from. @throws Refusal; status 409 where somebody saved meanwhile */
  async save(base: number, changes: Changes, who: string, why: string): Promise<InForce> {
    return inForceOf(await asked(versioned, send(`${this.base}/thresholds`, 'PUT', { base, changes, who, why })));
  }

  async plans(): Promise<readonly PlanChoice[]> {
    return (await asked(planList, answerOf(`${this.base}/plans`))).plans.map(({ key, name }) => ({ key, name }));
  }

  plan(key: string): Promise<SettingAnswer> {
    return asked(setting, answerOf(`${this.base}/plans/${encodeURIComponent(key)}`));
  }

  /** Saves changes of a plan to the version they were made from. @throws Refusal; status 409 where somebody saved meanwhile */
  savePlan(key: string, base: number, changes: Changes, who: string, why: string): Promise<SettingAnswer> {
    return asked(setting, send(`${this.base}/plans/${encodeURIComponent(key)}`, 'PUT', { base, changes, who, why }));
  }

  /** Who is signed in; `null` where nobody needs to be. */
  async person(): Promise<string | null> {
    try {
      return (await asked(me, answerOf('/api/me'))).person?.name ?? null;
    } catch {
      return null;
    }
  }

  async labels(run: number): Promise<Labels | null> {
    try {
      return (await asked(labelled, answerOf(`${this.base}/runs/${run}/labels`))).labels;
    } catch {
      return null;
    }
  }

  async label(run: number, body: Readonly<Record<string, unknown>>): Promise<Labels> {
    return (await asked(labelled, send(`${this.base}/runs/${run}/labels`, 'POST', body))).labels;
  }
}

function inForceOf({ version, text, versions }: z.output<typeof versioned>): InForce {
  const newest = versions.find((other) => other.version === version);
  const chosen = newest?.why == null ? null : `${newest.why}${newest.who === null ? '' : ` (${newest.who})`}`;
  return { version, text, thresholds: parseThresholds(text.trim() === '' ? {} : (parse(text) as unknown), 'thresholds'), chosen };
}

/** The text of a thresholds file with some changed, for the routes that take one. */
export function textWith({ text }: InForce, changes: Changes): string {
  const written: unknown = text.trim() === '' ? {} : parse(text);
  return stringify({ ...(typeof written === 'object' && written !== null ? written : {}), ...changes });
}
