import { localZone } from '../acquisition/calibration-due.js';
import { certificateStanding } from '../certificate/certificate-content.js';
import type { DocumentMaker } from '../certificate/document-maker.js';
import { inputError } from '../core/problems.js';
import { addToRun, type Author } from '../records/add-to-run.js';
import { same } from '../records/assembly-results.js';
import { jobIn, retestOf, sameAgain, type Job } from '../records/job.js';
import { runStory } from '../records/run-story.js';
import type { Entry, Store } from '../records/store.js';
import { visualWords } from '../records/visual-finding.js';
import { WaitingJobs } from '../records/waiting-jobs.js';
import type { RunSummary } from '../server/bench-feed.js';
import type { JobState, OperatorDesk, RunAbout } from '../server/operator-desk.js';
import type { AuditNote } from '../records/audit.js';
import type { BenchListener } from './bench-listener.js';

/** What the desk needs of its bench. */
export interface DeskBench {
  readonly name: string;
  /** `null` while the daemon is not running. */
  readonly records: Store | null;
  /** Number of the run that is going on; `null` between runs, and while the store refuses it. */
  readonly openRun: number | null;
  /** A run is going on, whether the store has taken it or not. */
  readonly running: boolean;
  /** Something was changed that is no entry of a run yet. */
  changed?(note: AuditNote): void;
  /** A job is another one. */
  jobChanged(): void;
  /** Something was said about a run that is over. */
  runsChanged(): void;
  /** The plan of an earlier run is wanted for the next one. */
  planAsIn?(run: number, author: Author): void;
  /** `version 3, by J. Doe: new hose`; `null` where the library does not know the content with this SHA-256. */
  versionOf?(sha256: string): string | null;
}

/** Newest runs that are looked through for a job. */
const lookedThrough = 50;

/**
 * Brings what operators key in to the runs of one bench. A job for the next run waits in the store, so that it outlives
 * the program; as the run begins it becomes an entry of that run, sealed at once.
 */
export class JobDesk implements OperatorDesk, BenchListener {
  constructor(
    private readonly state: DeskBench,
    readonly documents: DocumentMaker,
    private readonly now: () => number = Date.now,
    private readonly zone: string = localZone(),
  ) {}

  get bench(): string {
    return this.state.name;
  }

  jobs(): JobState {
    const store = this.store();
    const run = this.state.openRun;
    const waiting = this.waiting().get(this.bench);
    return {
      waiting: waiting && { job: waiting.job, who: waiting.who },
      present: run === null ? null : { run, job: jobOf(store, run) },
      last: lastJob(store, this.bench),
    };
  }

  keyIn(job: Job, author: Author): JobState {
    const run = this.state.openRun;
    if (run === null) {
      this.waiting().put(this.bench, { job, who: author.who, wall: this.now() });
      this.state.changed?.({ ...author, subject: 'job', what: 'keyed in for the next run', details: job });
    } else addToRun(this.store(), run, { kind: 'job', ...job }, author);
    return this.changed();
  }

  sameAgain(author: Author): JobState {
    const last = lastJob(this.store(), this.bench);
    if (last === null) throw inputError(this.bench, 'job', 'no run has a job yet; key the first one in');
    if (!this.state.running) this.state.planAsIn?.(last.run, author);
    return this.keyIn(sameAgain(last.job), author);
  }

  retest(run: number, assembly: string, author: Author): JobState {
    if (this.state.running) throw inputError(this.bench, 'retest', 'a run is going on; ask for the retest once the bench is vented');
    const { job } = runStory(this.store(), run);
    const serial = job?.assemblies?.find((named) => same(named, assembly));
    if (job === null || serial === undefined) throw inputError(`run ${run}`, 'retest', `'${assembly}' is not on it`);
    this.state.planAsIn?.(run, author);
    return this.keyIn(retestOf(job, run, serial), author);
  }

  putAside(who: string): JobState {
    const waiting = this.waiting().get(this.bench);
    this.waiting().clear(this.bench);
    if (waiting !== null) this.state.changed?.({ who, subject: 'job', what: 'put aside before the next run', details: waiting.job });
    return this.changed();
  }

  about(number: number): RunAbout {
    const store = this.store();
    const { run, job, visual, entries, assemblies, result, judgement } = runStory(store, number);
    if (run.bench !== this.bench) throw inputError(`run ${number}`, '', `is of another bench, ${run.bench}`);
    const { kind, gaps } = certificateStanding(store, number, { zone: this.zone });
    return {
      run: number, verdict: judgement.outcome.verdict, result, job, assemblies,
      visual: visual === null ? null : visualWords(visual),
      said: entries.map(({ entry, who, why, wall }) => ({ kind: entry.kind, who, why, wall, words: wordsOf(entry) })),
      document: { kind, sentence: gaps.sentence, missing: gaps.missing },
      judgedBy: { plan: this.namedVersion(judgement.plan), thresholds: this.namedVersion(judgement.thresholds) },
    };
  }

  /** `two-wire DN12, version 3, by J. Doe: new hose`. */
  private namedVersion(hash: string | null): string | null {
    const content = hash === null ? null : this.store().versions.get(hash)?.content;
    if (hash === null || typeof content !== 'object' || content === null) return null;
    const name = 'plan' in content ? content.plan : 'thresholds' in content ? content.thresholds : '';
    return [String(name), this.state.versionOf?.(hash) ?? `content ${hash.slice(0, 12)}`].join(', ');
  }

  say(number: number, entry: Entry, author: Author): RunAbout {
    const store = this.store();
    if (store.getRun(number)?.bench !== this.bench) throw inputError(`run ${number}`, '', 'there is no such run on this bench');
    addToRun(store, number, entry, author);
    if (store.getRun(number)?.state === 'open') this.state.jobChanged();
    else this.state.runsChanged();
    return this.about(number);
  }

  runStarted(): void {
    this.attach(this.state.openRun);
  }

  /** A run that the store took late gets the job that waited for it. */
  runEnded(run: RunSummary): void {
    const number = Number(run.id);
    if (Number.isSafeInteger(number) && this.store().getRun(number)?.bench === this.bench && jobOf(this.store(), number) === null) this.attach(number, run.wall + 1000 * (run.to - run.from));
  }

  /** @param before ms since 1970: only a job that was keyed in by then; later ones are for the next run */
  private attach(run: number | null, before = Infinity): void {
    if (run === null) return;
    const waiting = this.waiting().get(this.bench);
    if (waiting === null || waiting.wall > before) return;
    const store = this.store();
    store.addEntry(run, { kind: 'job', ...waiting.job }, waiting.who);
    this.waiting().clear(this.bench);
    this.state.jobChanged();
  }

  private changed(): JobState {
    this.state.jobChanged();
    return this.jobs();
  }

  private waiting(): WaitingJobs {
    return new WaitingJobs(this.store().db);
  }

  private store(): Store {
    const { records } = this.state;
    if (records === null) throw inputError(this.bench, '', 'is not recording at this moment; try again');
    return records;
  }
}

function jobOf(store: Store, run: number): Job | null {
  const entry = store.entriesOf(run).findLast((appended) => appended.entry.kind === 'job')?.entry;
  return entry?.kind === 'job' ? jobIn(entry) : null;
}

function lastJob(store: Store, bench: string): JobState['last'] {
  for (const { number } of store.listRuns({ bench, limit: lookedThrough })) {
    const job = jobOf(store, number);
    if (job !== null) return { run: number, job };
  }
  return null;
}

function wordsOf(entry: Entry): string {
  switch (entry.kind) {
    case 'visual-finding':
      return visualWords(entry);
    case 'job':
      return [entry.order, entry.customer, ...(entry.assemblies ?? [])].filter((part) => part !== undefined).join(', ');
    case 'note':
      return entry.text;
    case 'label':
      return entry.label;
    case 'certificate':
      return entry.number;
    case 'judged-again':
      return 'judged again';
    case 'trace-removed':
      return 'the readings were given up to keep room';
  }
}
