import { notRecorded } from '../../src/core/judging/not-recorded.js';
import type { Outcome } from '../../src/core/outcome.js';
import { ReadingInDetail, type RunInDetail } from '../../src/core/reading-in-detail.js';
import type { Plan } from '../../src/core/plan.js';
import type { Thresholds } from '../../src/core/thresholds.js';
import { runChange } from '../../src/tuning/run-change.js';
import { planFor } from './plan-values.js';
import type { FromReader, LoadedRun, ReadTwice, ToReader, Tried } from './reading-messages.js';

/** Samples read before the next message is looked at: some milliseconds. */
const stretch = 20_000;

/** A reading on its way. */
interface Going {
  readonly run: LoadedRun;
  /** Null once the run was read as it was judged. */
  before: ReadingInDetail | null;
  readonly after: ReadingInDetail;
}

type Sweep = Extract<ToReader, { kind: 'sweep' }>;
type Read = Extract<ToReader, { kind: 'read' }>;

/**
 * What the worker does: reads the run that is shown as soon as anything changes, and all the others after it. Each `step` is
 * short; an order that a newer one has overtaken is dropped, wherever it stands.
 */
export class ReadingDesk {
  private readonly runs = new Map<string, LoadedRun>();
  private readonly asJudged = new Map<string, readonly RunInDetail[]>();
  private read: Read | null = null;
  private sweep: { readonly order: Sweep; next: number } | null = null;
  private going: { readonly of: 'read' | 'sweep'; readonly ticket: number; readonly it: Going } | null = null;

  constructor(private readonly send: (message: FromReader) => void) {}

  take(message: ToReader): void {
    switch (message.kind) {
      case 'hold':
        this.forget(message.run.id);
        this.runs.set(message.run.id, message.run);
        break;
      case 'release':
        this.forget(message.id);
        break;
      case 'read':
        this.read = message;
        if (this.going?.of === 'read') this.going = null;
        break;
      case 'sweep':
        this.sweep = { order: message, next: 0 };
        if (this.going?.of === 'sweep') this.going = null;
        break;
      case 'stop-sweep':
        this.sweep = null;
        if (this.going?.of === 'sweep') this.going = null;
        break;
    }
  }

  /** Works a little. @returns whether there is more to do */
  step(): boolean {
    const { read } = this;
    if (read !== null && this.going?.of !== 'read') this.begin('read', read.ticket, read.id, read);
    else if (this.going === null && this.sweep !== null) {
      const { order, next } = this.sweep;
      const id = order.ids[next];
      if (id === undefined) this.sweep = null;
      else this.begin('sweep', order.ticket, id, order);
    }
    if (this.going !== null) this.goOn(this.going.it);
    return this.going !== null || this.read !== null || this.sweep !== null;
  }

  private begin(of: 'read' | 'sweep', ticket: number, id: string, { thresholds, trial = null }: Tried): void {
    const run = this.runs.get(id);
    if (run === undefined) return this.end(of, { kind: 'failed', ticket, id, sentence: 'This run is not loaded.' });
    const before = this.asJudged.has(id) ? null : readingOf(run, run.plan, run.own);
    this.going = { of, ticket, it: { run, before, after: readingOf(run, planFor(run.plan, trial), thresholds) } };
  }

  private goOn(it: Going): void {
    const { of, ticket } = this.going ?? { of: 'read', ticket: 0 };
    const { id } = it.run;
    try {
      if (it.before !== null) {
        if (!it.before.read(stretch)) return;
        this.asJudged.set(id, foundIn(it.run, it.before));
        it.before = null;
        return;
      }
      if (!it.after.read(stretch)) return;
      const twice = compared(it.run, this.asJudged.get(id) ?? [], foundIn(it.run, it.after));
      if (of === 'read') this.end(of, { kind: 'read', ticket, ...twice });
      else this.end(of, { kind: 'swept', ticket, id, change: twice.change, done: (this.sweep?.next ?? 0) + 1, of: this.sweep?.order.ids.length ?? 0 });
    } catch (error) {
      this.end(of, { kind: 'failed', ticket, id, sentence: error instanceof Error ? error.message : String(error) });
    }
  }

  private end(of: 'read' | 'sweep', message: FromReader): void {
    this.going = null;
    if (of === 'read') this.read = null;
    else if (this.sweep !== null) this.sweep.next++;
    this.send(message);
  }

  private forget(id: string): void {
    this.runs.delete(id);
    this.asJudged.delete(id);
    if (this.going?.it.run.id === id) this.going = null;
  }
}

const readingOf = ({ trace, instrument, recorded }: LoadedRun, plan: Plan | null, thresholds: Thresholds): ReadingInDetail =>
  new ReadingInDetail(trace, { plan, thresholds, instrument: instrument ?? undefined, recorded: recorded !== null });

/** Of a recorded run: what shares time with it. With other thresholds it may begin elsewhere, be two, or none. */
function foundIn({ recorded }: LoadedRun, reading: ReadingInDetail): readonly RunInDetail[] {
  if (recorded === null) return reading.found;
  return reading.found.filter(({ from, to }) => from !== null && to !== null && from < recorded.to && to > recorded.from);
}

const outcomesOf = (runs: readonly RunInDetail[]): Outcome[] => runs.map(({ outcome }) => outcome);

function compared({ id, recorded }: LoadedRun, before: readonly RunInDetail[], after: readonly RunInDetail[]): ReadTwice {
  const was = recorded?.outcome.verdict;
  const now = runChange(outcomesOf(before), outcomesOf(before)).before.verdict;
  if (was === undefined || was === now) return { id, before, after, change: runChange(outcomesOf(before), outcomesOf(after)), unlikeRecord: null };
  // A record that is not whole was judged more strictly than its readings alone: what is tried is so, too.
  const last = recorded?.outcome.findings.at(-1);
  const reason = last?.rule === 'data' && last.outcome === 'undecided' ? last.sentence : null;
  const stricter = (runs: readonly RunInDetail[]): readonly RunInDetail[] =>
    reason === null ? runs : runs.map((run) => ({ ...run, outcome: notRecorded(run.outcome, reason) }));
  const [strictBefore, strictAfter] = [stricter(before), stricter(after)];
  const change = runChange(outcomesOf(strictBefore), outcomesOf(strictAfter));
  if (change.before.verdict === was) return { id, before: strictBefore, after: strictAfter, change, unlikeRecord: null };
  return { id, before, after, change: runChange(outcomesOf(before), outcomesOf(after)), unlikeRecord: `On record it is '${was}'; read again by this version with the same thresholds it is '${now}'.` };
}
