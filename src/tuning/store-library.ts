import type { Outcome } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import type { CycleRecord } from '../core/reading/cycle-record.js';
import { inputError } from '../core/problems.js';
import type { Thresholds } from '../core/thresholds.js';
import { canonicalJson } from '../records/canonical-json.js';
import { notRecorded } from '../records/not-recorded.js';
import { labelsIn } from '../records/run-labels.js';
import { extentOf } from '../records/run-record.js';
import { runStory, type RunStory } from '../records/run-story.js';
import { openStore, type Run, type Store } from '../records/store.js';
import type { Judging } from './judging.js';
import { outcomesWithin, readMany, type Recording } from './read-many.js';
import type { LibraryChoice, RecordedRun, RunKey, RunLibrary } from './run-library.js';

/** The runs of a store, read beside a daemon that may be recording into it. */
export class StoreLibrary implements RunLibrary {
  private readonly store: Store;

  /** @throws InputError where there is no store */
  constructor(path: string, private readonly software: string) {
    this.store = openStore(path, { software, readOnly: true }).store;
  }

  keys({ numbers, plan, hose, bench, since, until, verdict, label }: LibraryChoice): readonly number[] {
    const { store } = this;
    const found = store.search.find({
      limit: Number.MAX_SAFE_INTEGER,
      ...(plan !== undefined && { plan }), ...(hose !== undefined && { hose }), ...(bench !== undefined && { bench }),
      ...(since !== undefined && { from: since }), ...(until !== undefined && { to: until - 1 }),
    });
    const open = new Set(store.runs.openOnes().map(({ number }) => number));
    const labelled = label === undefined || label === 'not labelled' ? null : new Set(store.db.prepare<[], number>("SELECT DISTINCT run FROM entries WHERE kind = 'label'").pluck().all());
    const judged = verdict === undefined ? null : new Set(this.withVerdict(verdict));
    return found
      .filter((number) => !open.has(number) && (labelled?.has(number) ?? true) && (judged?.has(number) ?? true))
      .filter((number) => numbers === undefined || numbers.some(([from, to]) => number >= from && number <= to))
      .reverse();
  }

  run(key: RunKey): RecordedRun {
    const story = runStory(this.store, Number(key));
    const { run, job, judgement } = story;
    if (this.store.traceRemoved(run.number)) throw inputError(`run ${run.number}`, '', 'has no readings any more: they were given up to keep room');
    const content = (hash: string | null) => (hash === null ? null : (this.store.versions.get(hash)?.content ?? null));
    const own = { plan: content(judgement.plan) as Plan | null, thresholds: content(judgement.thresholds) as Thresholds };
    return {
      key: run.number,
      name: `run ${run.number}`,
      bench: run.bench,
      wall: run.fromWall,
      hose: job?.hose ?? null,
      planName: own.plan?.plan ?? null,
      labels: labelsIn(story.entries.map(({ entry }) => entry)),
      own,
      instrument: run.instrument,
      recorded: [judgement.outcome],
      otherProgram: run.software !== this.software,
      judge: (judgings) => this.judge(story, own, judgings),
      cycles: (judging) => this.cycles(story, judging),
    };
  }

  close(): void {
    this.store.close();
  }

  private judge({ run, judgement }: RunStory, own: Judging, judgings: readonly Judging[]): readonly (readonly Outcome[])[] {
    const recording = this.recordingOf(run);
    const [from, to] = [run.from, run.to ?? Infinity];
    // Whether the record was made stricter because it is not whole shows only beside what the readings alone come to.
    const reason = judgement.outcome.findings.at(-1);
    const incomplete = reason?.rule === 'data' && reason.outcome === 'undecided' ? reason.sentence : null;
    const runs = readMany(recording, incomplete === null ? judgings : [...judgings, own]);
    const outcomes = runs.map((found) => outcomesWithin(found, from, to));
    if (incomplete === null) return outcomes;
    const plain = outcomes.pop();
    const stricter = plain?.some((outcome) => canonicalJson(outcome) !== canonicalJson(judgement.outcome) && canonicalJson(notRecorded(outcome, incomplete)) === canonicalJson(judgement.outcome));
    return stricter ? outcomes.map((list) => list.map((outcome) => notRecorded(outcome, incomplete))) : outcomes;
  }

  private cycles({ run }: RunStory, judging: Judging): readonly CycleRecord[] {
    const cycles: CycleRecord[] = [];
    readMany(this.recordingOf(run), [judging], (seen) => cycles.push(...seen));
    return cycles.filter(({ rising }) => rising !== null && rising >= run.from - 1 && rising <= (run.to ?? Infinity));
  }

  private recordingOf(run: Run): Recording {
    const { received, instrument, channel } = run;
    if (received === null) throw inputError(`run ${run.number}`, '', 'is still going on');
    const reading = run.reading ?? { ...extentOf(run), lid: null };
    const marks = this.store.traces.marks(channel, reading.from, reading.to, received);
    return { reading, instrument, marks, pieces: this.store.traces.inTurn(channel, reading.from, reading.to, received) };
  }

  /** Numbers of the runs whose verdict in force is this one. */
  private withVerdict(verdict: string): number[] {
    return this.store.db
      .prepare<[string], number>(
        `SELECT number FROM runs WHERE coalesce(
           (SELECT json_extract(content, '$.outcome.verdict') FROM entries WHERE run = number AND kind = 'judged-again' ORDER BY id DESC LIMIT 1), verdict) = ?`,
      )
      .pluck()
      .all(verdict);
  }
}
