import type { Cycle, Verdict } from '../core/outcome.js';
import type { Job } from '../records/job.js';
import type { StoreReader } from '../records/store-reader.js';
import type { VisualFinding } from '../records/visual-finding.js';

/** What lists and statistics need of a run, with everything said since; the newest entry of a kind holds. */
export interface RunFacts {
  readonly run: number;
  readonly state: 'open' | 'finished' | 'interrupted';
  /** ms since 1970, first sample. */
  readonly wall: number;
  readonly length: number | null;
  /** `null` while it is open. */
  readonly sealed: Verdict | null;
  readonly result: Verdict | null;
  /** By which it is judged now. */
  readonly plan: string | null;
  readonly planVersion: string | null;
  readonly job: Job | null;
  readonly visual: VisualFinding | null;
  /** Verdict of the pressure alone, by the newest judgement. */
  readonly judged: Verdict | null;
}

interface Row {
  readonly run: number;
  readonly state: RunFacts['state'];
  readonly wall: number;
  readonly length: number | null;
  readonly sealed: Verdict | null;
  readonly plan: string | null;
  readonly again: string | null;
  readonly job: string | null;
  readonly visual: string | null;
}

const newest = (kind: string, what = 'content'): string => `(SELECT ${what} FROM entries WHERE run = number AND kind = '${kind}' ORDER BY id DESC LIMIT 1)`;
const again = `json_object('plan', json_extract(content, '$.plan'), 'verdict', json_extract(content, '$.outcome.verdict'))`;
const columns = `number AS run, state, started_wall AS wall, ended - started AS length, verdict AS sealed, plan,
  ${newest('judged-again', again)} AS again, ${newest('job')} AS job, ${newest('visual-finding')} AS visual`;

/** Reads facts of runs, without the outcome and the trace. */
export class RunFactsReader {
  private readonly one;
  private readonly page;
  private readonly cyclesOf;
  private readonly names = new Map<string, string | null>();

  constructor(private readonly store: StoreReader) {
    this.one = store.db.prepare<[number], Row>(`SELECT ${columns} FROM runs WHERE number = ?`);
    this.page = store.db.prepare<[string, number, number, number, number], Row>(
      `SELECT ${columns} FROM runs WHERE bench = ? AND number < ? AND started_wall BETWEEN ? AND ? AND state <> 'open' ORDER BY number DESC LIMIT ?`,
    );
    this.cyclesOf = store.db
      .prepare<[number], string | null>(
        `SELECT coalesce(${newest('judged-again', `json_extract(content, '$.outcome.cycles')`)}, json_extract(outcome, '$.cycles')) FROM runs WHERE number = ?`,
      )
      .pluck();
  }

  of(run: number): RunFacts | null {
    const row = this.one.get(run);
    return row === undefined ? null : this.factsOf(row);
  }

  /** Runs of a bench that are over, the newest first; `wall` bounds in ms since 1970. */
  *sealed(bench: string, { from = -Infinity, to = Infinity }: { from?: number | undefined; to?: number | undefined } = {}): Generator<RunFacts> {
    for (let before = Number.MAX_SAFE_INTEGER; ; ) {
      const rows = this.page.all(bench, before, from, to, 500);
      for (const row of rows) yield this.factsOf(row);
      const last = rows.at(-1);
      if (last === undefined) return;
      before = last.run;
    }
  }

  /** Cycles as the newest judgement measured them. */
  cycles(run: number): readonly Cycle[] {
    const text = this.cyclesOf.get(run);
    return text == null ? [] : (JSON.parse(text) as readonly Cycle[]);
  }

  private factsOf({ again: judgement, job, visual, plan, ...row }: Row): RunFacts {
    // Entries were checked when they came in.
    const later = judgement === null ? null : (JSON.parse(judgement) as { plan: string; verdict: Verdict });
    const seen = visual === null ? null : (JSON.parse(visual) as VisualFinding);
    const planVersion = later?.plan ?? plan;
    const judged = later?.verdict ?? row.sealed;
    return {
      ...row, planVersion, judged,
      plan: planVersion === null ? null : this.nameOf(planVersion),
      job: job === null ? null : (JSON.parse(job) as Job),
      visual: seen,
      result: row.sealed !== null && seen?.finding === 'leakage seen' ? 'fail' : judged,
    };
  }

  private nameOf(version: string): string | null {
    const known = this.names.get(version);
    if (known !== undefined) return known;
    const content = this.store.versions.get(version)?.content;
    const name = typeof content === 'object' && content !== null && 'plan' in content && typeof content.plan === 'string' ? content.plan : null;
    this.names.set(version, name);
    return name;
  }
}
