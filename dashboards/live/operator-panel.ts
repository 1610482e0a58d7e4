import { AfterRun } from './after-run.js';
import { JobClient, type Job, type JobState, type RunAbout, type WrittenJob } from './job-client.js';
import { JobForm } from './job-form.js';
import { jobWords } from './job-words.js';
import { lastRun, type LiveState } from './live-state.js';
import { make, part, say } from '../shared/page-parts.js';
import { SetupClient } from '../shared/setup-client.js';
import { PlanPicker } from './plan-picker.js';
import { whoAmI } from '../shared/signed-in.js';
import { placeOfScan, scanFields, scanWords, type KnownTexts, type ScanField } from './scan-place.js';
import { SetUpReminder } from './set-up-reminder.js';
import { WedgeReader } from './wedge-reader.js';

const remembered = 'dwellkeeper-operator';

/** Job details, what was seen, documents: a strip above the pressure, and a sheet below it that never covers it. */
export class OperatorPanel {
  readonly #client: JobClient;
  readonly #setup: SetupClient;
  readonly #reminder = new SetUpReminder();
  readonly #wedge = new WedgeReader();
  readonly #who = part('who') as HTMLInputElement;
  #jobs: JobState | null = null;
  #form: JobForm | null = null;
  #after: AfterRun | null = null;
  /** Run whose sheet was put away because the next run began. */
  #docked: number | null = null;
  /** s: start of the run that was going on when the page was last drawn. */
  #began: number | null = null;
  /** Run that the open sheet is about. */
  #shownRun: number | null = null;
  #lastRun: number | null = null;
  #lastSeen: string | null = null;
  #asked = '';

  constructor(bench: string) {
    this.#client = new JobClient(bench);
    this.#setup = new SetupClient(bench);
    this.#who.value = localStorage.getItem(remembered) ?? '';
    this.#who.addEventListener('change', () => localStorage.setItem(remembered, this.#who.value.trim()));
    void whoAmI().then((me) => this.#signedIn(me?.person?.name ?? null));
    part('job-open').addEventListener('click', () => this.#editNext());
    part('job-again').addEventListener('click', () => void this.#try(async () => this.#take(await this.#client.sameAgain(this.#name()))));
    part('job-aside').addEventListener('click', () => void this.#try(async () => this.#take(await this.#client.putAside())));
    part('after-open').addEventListener('click', () => void this.#try(() => this.#showAfter(this.#lastRun ?? this.#docked)));
    // First of all: Enter at the end of a scan must not press the button that has the focus.
    document.addEventListener('keydown', (event) => this.#key(event), { capture: true });
  }

  /** Whoever is signed in is who acts here, whatever was typed before. */
  #signedIn(name: string | null): void {
    if (name === null) return;
    this.#who.value = name;
    this.#who.readOnly = true;
  }

  /** The daemon said something that may have changed a job or a run. */
  refresh(): void {
    void this.#client.jobs().then((jobs) => this.#take(jobs)).catch(() => undefined);
  }

  show(state: LiveState | null): void {
    this.#reminder.show(state?.health ?? null);
    const run = state === null ? null : lastRun(state);
    this.#lastRun = run !== null && /^\d+$/.test(run.id) ? Number(run.id) : null;
    if (run !== null) this.#lastSeen = run.visual;
    if (this.#lastRun !== null) this.#docked = null;
    const began = state?.view?.runSince ?? null;
    if (began !== null && began !== this.#began) this.#makeWay();
    this.#began = began;
    // The job of a run is asked for again as the run begins and ends.
    const key = `${state?.session} ${state?.view?.runSince} ${state?.runs[0]?.id}`;
    if (state !== null && key !== this.#asked) {
      this.#asked = key;
      this.refresh();
    }
    this.#strip();
  }

  /** The next run has begun: the sheet of the last one goes, unless something was entered there; a button brings it back. */
  #makeWay(): void {
    if (this.#after === null || this.#after.entered) return;
    this.#docked = this.#shownRun;
    this.#close();
  }

  #strip(): void {
    const jobs = this.#jobs;
    const present = jobs?.present ?? null;
    const waiting = jobs?.waiting ?? null;
    const words = present !== null
      ? `This run: ${present.job === null ? 'no job details yet' : jobWords(present.job)}`
      : `Next run: ${waiting === null ? 'no job details yet' : jobWords(waiting.job)}`;
    say(part('job-words'), jobs === null ? '' : words);
    const again = jobs !== null && jobs.last !== null && (present === null ? waiting === null : present.job === null);
    part('job-again').hidden = !again;
    part('job-aside').hidden = waiting === null || present !== null;
    const over = (present === null ? this.#lastRun : null) ?? this.#docked;
    part('after').hidden = over === null;
    say(part('after-words'), this.#lastSeen === null ? `Run ${over}: what was seen?` : `Run ${over}: ${this.#lastSeen}`);
    say(part('after-open'), this.#lastSeen === null ? 'Say what was seen' : 'Result and certificate');
    part('after-open').classList.toggle('strong', this.#lastSeen === null && this.#docked === null);
  }

  #take(jobs: JobState): void {
    this.#jobs = jobs;
    say(part('strip-problem'), '');
    this.#strip();
  }

  #editNext(job?: Job | null): void {
    const { present, waiting, last } = this.#jobs ?? { present: null, waiting: null, last: null };
    const shown = job ?? present?.job ?? waiting?.job ?? null;
    const form = new JobForm(present === null ? 'Job for the next run' : `Job of run ${present.run}`, shown ?? carriedOver(last?.job ?? null), false, {
      save: async (written, _why, plan) => {
        const who = this.#nameFor(written);
        if (plan !== null) await this.#setup.choose(plan, who);
        // What was begun for a run that has ended meanwhile is about that run, not about the next one.
        if (present !== null && this.#jobs?.present?.run !== present.run) return this.#saveOver(present.run, written, who);
        this.#take(await this.#client.keyIn(written, who));
        this.#close();
      },
      close: () => this.#close(),
    }, { picker: new PlanPicker(this.#setup), reminder: this.#reminder.element });
    this.#open(form.element, null);
    this.#form = form;
    form.focus();
  }

  /** The run ended while its job was being filled in; where there is one already, a change needs a reason now. */
  async #saveOver(run: number, written: WrittenJob, who: string): Promise<void> {
    const about = await this.#client.about(run);
    if (about.job === null) return this.#afterRun(await this.#client.say(run, { kind: 'job', ...written }, who, ''));
    this.#editRun(about);
    for (const [name, value] of Object.entries(written)) this.#form?.put(name, String(value));
    say(part('strip-problem'), `Run ${run} is over: say why its job is changed.`);
  }

  #editRun({ run, job }: RunAbout): void {
    const form = new JobForm(`Job of run ${run}`, job, job !== null, {
      save: async (written: WrittenJob, why: string) => {
        this.#afterRun(await this.#client.say(run, { kind: 'job', ...written }, this.#nameFor(written), why));
      },
      close: () => void this.#try(() => this.#showAfter(run)),
    });
    this.#open(form.element, run);
    this.#form = form;
    form.focus();
  }

  async #showAfter(run: number | null): Promise<void> {
    if (run !== null) this.#afterRun(await this.#client.about(run));
  }

  #afterRun(about: RunAbout): void {
    if (this.#who.value.trim() === '' && about.job?.operator !== undefined) this.#who.value = about.job.operator;
    const panel = new AfterRun(about, this.#client, () => this.#name(), {
      saidSomething: (news) => this.#afterRun(news),
      retest: async (assembly) => {
        this.#take(await this.#client.retest(about.run, assembly, this.#name()));
        this.#close();
      },
      editJob: () => this.#editRun(about),
      close: () => this.#close(),
    });
    this.#open(panel.element, about.run);
    this.#after = panel;
    panel.focus();
  }

  #open(element: HTMLElement, run: number | null): void {
    this.#form = null;
    this.#after = null;
    this.#shownRun = run;
    const sheet = part('sheet');
    sheet.replaceChildren(element);
    sheet.hidden = false;
    sheet.scrollTop = 0;
    document.body.dataset['sheet'] = 'open';
    if (matchMedia('(max-width: 1000px)').matches) sheet.scrollIntoView({ block: 'start' });
  }

  #close(): void {
    const { activeElement } = document;
    const inside = activeElement !== null && part('sheet').contains(activeElement);
    this.#form = null;
    this.#after = null;
    part('sheet').hidden = true;
    part('sheet').replaceChildren();
    delete document.body.dataset['sheet'];
    if (inside) part(this.#shownRun === null ? 'job-open' : 'after-open').focus();
  }

  /** @throws Error where nobody is named */
  #name(): string {
    const name = this.#who.value.trim();
    if (name !== '') return name;
    this.#who.focus();
    throw new Error('Say who you are first: the field is at the right of the job.');
  }

  /** Whoever is named in the form as operator is at the bench. */
  #nameFor({ operator }: WrittenJob): string {
    if (this.#who.value.trim() === '' && typeof operator === 'string') {
      this.#who.value = operator.trim();
      localStorage.setItem(remembered, operator.trim());
    }
    return this.#name();
  }

  async #try(work: () => Promise<void>): Promise<void> {
    try {
      await work();
    } catch (error) {
      say(part('strip-problem'), error instanceof Error ? error.message : String(error));
    }
  }

  #key(event: KeyboardEvent): void {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const { target } = event;
    if (event.key === 'Escape' && !event.isComposing) return this.#escape(event);
    // A field that is being filled gets what is typed and scanned.
    if (target instanceof HTMLInputElement && target.type !== 'radio' && target.type !== 'checkbox') return this.#wedge.forget();
    const news = this.#wedge.key(event.key, event.timeStamp);
    if (news.kind === 'nothing') return;
    event.preventDefault();
    event.stopPropagation();
    if (news.kind === 'scanned') this.#scanned(news.text);
  }

  /** Puts the sheet away. What was entered is never lost by one key: then the button that closes gets the cursor. */
  #escape(event: KeyboardEvent): void {
    const { target } = event;
    // In a search field with words in it the key takes these back.
    if (part('sheet').hidden || (target instanceof HTMLInputElement && target.type === 'search' && target.value !== '')) return;
    event.preventDefault();
    const close = part('sheet').querySelector<HTMLElement>('.sheet-head .close');
    if (this.#form?.entered === true || this.#after?.entered === true) close?.focus();
    else close?.click();
  }

  #scanned(text: string): void {
    const place = placeOfScan(text, this.#known());
    if (place !== null) return this.#putScan(place, text);
    this.#askPlace(text);
  }

  #putScan(place: ScanField, text: string): void {
    if (this.#form === null) this.#editNext();
    const form = this.#form;
    const added = place !== 'assembly' || form?.addAssembly(text) === true;
    if (place !== 'assembly') form?.put(place, text);
    say(part('scan'), added ? `Scanned ${text}: ${scanWords[place]}` : `Scanned ${text}: it is there already`);
  }

  /** Where it cannot be told what was scanned, the person says it. */
  #askPlace(text: string): void {
    const ask = part('scan');
    const choose = (field: ScanField): void => {
      ask.replaceChildren();
      this.#putScan(field, text);
    };
    ask.replaceChildren(
      make('span', '', `Scanned ${text}. What is it?`),
      ...scanFields.map((field) => {
        const button = make('button', '', scanWords[field]);
        button.setAttribute('type', 'button');
        button.addEventListener('click', () => choose(field));
        return button;
      }),
    );
  }

  #known(): KnownTexts {
    const jobs = [this.#jobs?.present?.job, this.#jobs?.waiting?.job, this.#jobs?.last?.job].filter((job): job is Job => job != null);
    const of = (pick: (job: Job) => string | undefined) => jobs.flatMap((job) => pick(job) ?? []);
    return {
      order: of((job) => job.order), customer: of((job) => job.customer), hoseLot: of((job) => job.hoseLot), operator: of((job) => job.operator),
      assembly: jobs.flatMap(({ assemblies }) => assemblies ?? []),
    };
  }
}

/** What a new job mostly shares with the one before it: who works here, and with what. */
function carriedOver(job: Job | null): Job | null {
  if (job === null) return null;
  const { operator, responsible, medium } = job;
  return { ...(operator !== undefined && { operator }), ...(responsible !== undefined && { responsible }), ...(medium !== undefined && { medium }) };
}
