import { basename, extname } from 'node:path';
import type { Bench } from '../acquisition/bench-file.js';
import { InputError, inputError } from '../core/problems.js';
import type { Thresholds } from '../core/thresholds.js';
import { isLost } from '../files/last-good.js';
import { NotThere } from '../library/not-there.js';
import { PlanLibrary, type ShelvedPlan } from '../library/plan-library.js';
import { thresholdsKind } from '../library/setting-kind.js';
import { VersionedFile, type Standing } from '../library/versioned-file.js';
import type { Author } from '../records/add-to-run.js';
import { ChosenPlans, plansUsed } from '../records/chosen-plans.js';
import type { Store } from '../records/store.js';
import type { PlanInForce } from '../server/setup-answers.js';
import type { SetupDesk } from '../server/setup-desk.js';
import type { BenchListener } from './bench-listener.js';
import type { JudgingSetup } from './bench-setup.js';
import { FileAtRest } from './file-at-rest.js';

/** What the desk needs of its bench. */
export interface SetupBench {
  readonly bench: Bench;
  /** `null` while the daemon is not running. */
  readonly records: Store | null;
  readonly running: boolean;
  /** What the next run is judged by; the one that is going on keeps its own. */
  use(judging: JudgingSetup): void;
  /** Says something on the page, or takes it away again. */
  notice(subject: 'setup' | 'setup-next' | 'plan-gone', text: string | null): void;
  /** Pages should ask again. */
  changed(): void;
  /** Something in force is another than before. */
  told(judging: JudgingSetup): void;
}

/** Plans, thresholds and the choice among them, for one bench: whatever changes them, the next run is judged by what is in force. */
export class BenchSetupDesk implements SetupDesk, BenchListener {
  readonly library: PlanLibrary;
  readonly thresholds: VersionedFile<Thresholds>;
  private readonly thresholdsFile: FileAtRest;
  thresholdsNow: Standing<Thresholds> | null = null;
  /** Name of the plan's file; `null`: none is chosen and the bench file names none. */
  private key: string | null;
  /** What the run that is going on is judged by. */
  private held: { readonly key: string | null; readonly judging: JudgingSetup } | null = null;
  private readonly said = new Map<string, string>();

  constructor(
    private readonly state: SetupBench,
    private judging: JudgingSetup,
    private readonly now: () => number = Date.now,
  ) {
    const { plan, plans, thresholdsPlace } = state.bench;
    this.library = new PlanLibrary(plans, plan === undefined ? [] : [plan], now);
    this.thresholds = new VersionedFile(thresholdsPlace, thresholdsKind, now);
    this.thresholdsFile = new FileAtRest(thresholdsPlace);
    this.key = plan === undefined ? null : basename(plan, extname(plan));
  }

  get bench(): string {
    return this.state.bench.name;
  }

  get thresholdsInForce(): boolean {
    return this.state.bench.thresholds !== undefined || this.savedHere();
  }

  /** Reads the library, before anything is recorded: of a large one this takes a moment. Writes nothing. */
  prepare(): void {
    this.library.refresh(0);
  }

  /** Once the store is open: puts the chosen plan in force again. */
  begin(): void {
    this.lookAtThresholds();
    const inBenchFile = this.state.bench.plan ?? null;
    const chosen = this.state.records === null ? null : new ChosenPlans(this.state.records.db).get(this.bench);
    if (chosen !== null && chosen.inBenchFile === inBenchFile) {
      const found = this.shelved(chosen.key);
      if (found !== null && !found.newest.retired) this.key = found.key;
      else this.say('plan-gone', `the plan '${chosen.key}' that was chosen is no longer there; choose the plan for the next run`);
    }
    if (this.key !== null && this.shelved(this.key) !== null) this.library.settled(this.key);
    this.apply();
  }

  /** To be called about once a second: sees what was changed in the files past the program. */
  poll(): void {
    this.library.poll(this.key);
    if (this.thresholdsFile.moved()) this.lookAtThresholds();
    this.apply();
    if (!this.state.running) this.runEnded();
  }

  plan(): PlanInForce {
    const known = (key: string | null): string | null => (key !== null && this.shelved(key) !== null ? key : null);
    const { running } = this.state;
    return running && this.held !== null && this.waits ? { inForce: known(this.held.key), next: known(this.key), running } : { inForce: known(this.key), next: null, running };
  }

  lastUsed(): (plan: ShelvedPlan) => number | null {
    const used = this.state.records === null ? [] : plansUsed(this.state.records.db);
    return ({ newest, plan }) => {
      const walls = used.filter(({ sha256, name }) => sha256 === newest.sha256 || name === plan.plan).map(({ wall }) => wall);
      return walls.length === 0 ? null : Math.max(...walls);
    };
  }

  choose(key: string, { who }: Author): PlanInForce {
    const plan = this.library.settled(key);
    if (plan.newest.retired) throw inputError(key, '', 'is retired; bring it back before it is chosen');
    const store = this.state.records;
    if (store === null) throw inputError(this.bench, '', 'is not recording at this moment; try again');
    new ChosenPlans(store.db).put(this.bench, { key: plan.key, who, wall: this.now(), inBenchFile: this.state.bench.plan ?? null });
    this.key = plan.key;
    this.say('plan-gone', null);
    this.apply();
    return this.plan();
  }

  /** The plan of an earlier run for the next one, as it is in the library now; told where it is no longer there. */
  chooseAsIn(run: number, author: Author): void {
    const record = this.state.records?.getRun(run) ?? null;
    if (record?.plan == null) return;
    const content = this.state.records?.versions.get(record.plan)?.content;
    const name = typeof content === 'object' && content !== null && 'plan' in content ? content.plan : null;
    const plans = this.library.plans().filter(({ newest }) => !newest.retired);
    const found = plans.find(({ newest }) => newest.sha256 === record.plan) ?? plans.find(({ plan }) => plan.plan === name);
    if (found !== undefined && found.key !== this.key) this.choose(found.key, author);
    if (found === undefined && plans.length > 0) this.say('plan-gone', `the plan '${String(name)}' of run ${run} is not in the library any more; see which plan is in force`);
  }

  /** What the desk of the jobs wants to know of plans and thresholds. */
  forJobs() {
    return {
      planAsIn: (run: number, author: Author): void => this.chooseAsIn(run, author),
      versionOf: (sha256: string): string | null => {
        const found = this.library.versionWith(sha256)?.version ?? this.thresholds.versionWith(sha256);
        return found === null ? null : `version ${found.version}, by ${found.who}: ${found.why}`;
      },
    };
  }

  saved(): void {
    this.lookAtThresholds();
    this.apply();
  }

  checkThresholdsMayBeSaved(): void {
    const { thresholds, thresholdsPlace } = this.state.bench;
    if (thresholds !== undefined || this.savedHere() || isLost(thresholdsPlace)) return;
    throw inputError(basename(thresholdsPlace), '', "lies beside the bench file, which does not name it; add the line 'thresholds: thresholds.yaml' to the bench file, or move it away");
  }

  runStarted(): void {
    this.held = { key: this.key, judging: this.judging };
  }

  runEnded(): void {
    if (this.held === null) return;
    this.held = null;
    this.say('setup-next', null);
    this.state.changed();
  }

  /** Something else than the run that is going on is judged by holds from the next run on. */
  private get waits(): boolean {
    return this.held !== null && !sameText(this.held.judging, this.judging);
  }

  /** Thresholds that the bench file does not name count once somebody has saved them at the page. */
  private savedHere(): boolean {
    return this.thresholds.versions().length > 0;
  }

  private lookAtThresholds(): void {
    if (!this.thresholdsInForce) return;
    try {
      this.thresholdsNow = this.thresholds.look(false);
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      this.thresholdsNow = { newest: this.thresholdsNow?.newest ?? null, value: this.thresholdsNow?.value ?? null, problem: error, unkept: null, pending: false };
    }
  }

  /** Puts in force what holds now, where that is another than before. */
  private apply(): void {
    const plan = this.key === null ? null : this.shelved(this.key);
    const trouble = [plan?.problem ?? this.lostPlan(), this.thresholdsNow?.problem ?? null].filter((problem) => problem !== null);
    this.say('setup', trouble.length === 0 ? null : `the changed file is not used, the one before it stays in force: ${trouble.map(sentence).join('; ')}`);
    const wanted: JudgingSetup = {
      plan: plan === null ? this.judging.plan : { value: plan.plan, text: plan.newest.text },
      thresholds: this.thresholdsNow?.value == null ? this.judging.thresholds : { value: this.thresholdsNow.value, text: this.thresholdsNow.newest?.text ?? null },
    };
    if (sameText(wanted, this.judging)) return;
    this.judging = wanted;
    const now = wanted.plan?.value.plan ?? 'no plan';
    const before = this.held?.judging.plan?.value.plan ?? 'no plan';
    this.say('setup-next', !this.state.running || !this.waits ? null : now === before ? `'${now}' or the thresholds were changed during this run; the next run is judged by them as they are now, this one by them as they were` : `'${now}' is chosen for the next run; this run keeps '${before}'`);
    this.state.use(wanted);
    this.state.told(wanted);
    this.state.changed();
  }

  private say(subject: Parameters<SetupBench['notice']>[0], text: string | null): void {
    if ((this.said.get(subject) ?? null) === text) return;
    if (text === null) this.said.delete(subject);
    else this.said.set(subject, text);
    this.state.notice(subject, text);
  }

  private lostPlan(): InputError | null {
    const { plan } = this.state.bench;
    if (this.key === null || this.shelved(this.key) !== null || plan === undefined) return null;
    return isLost(plan) ? inputError(plan, '', 'there is no such file') : null;
  }

  private shelved(key: string): ShelvedPlan | null {
    try {
      return this.library.get(key);
    } catch (error) {
      if (error instanceof NotThere) return null;
      throw error;
    }
  }
}

const sameText = (one: JudgingSetup, other: JudgingSetup): boolean => one.plan?.text === other.plan?.text && one.thresholds.text === other.thresholds.text;
const sentence = (problem: InputError): string => problem.message.split('\n').join('; ');
