import type { PressureUnit } from '../../src/core/units.js';
import type { RunDetail, TraceStretch } from '../../src/server/history-answers.js';
import type { RunAbout } from '../../src/server/operator-desk.js';
import { eventSentence, lookOf } from '../shared/event-words.js';
import { inUnit, pressureText } from '../shared/figures.js';
import { make, say } from '../shared/page-parts.js';
import { clockTime, duration } from '../shared/time-words.js';
import type { HistoryClient } from './history-client.js';
import { writeAddress, type PageAddress } from './page-address.js';
import { button, dayAndTime, fileLink, link, openLink, row, select, table, verdictMark } from './page-elements.js';
import { comparedFigures, cycleFigures } from './run-figures.js';
import { RunTrace } from './run-trace.js';

const outcomeWords = { met: 'met', broken: 'broken', undecided: 'undecided' } as const;
const mostEvents = 300;

/** One run on record: its result and why, its trace, what was measured and said, its documents; another run beside it. */
export class RunView {
  readonly element = make('article', 'run-view');
  readonly #stop = new AbortController();
  #trace: RunTrace | null = null;
  #moving: ReturnType<typeof setTimeout> | undefined;

  constructor(
    private readonly client: HistoryClient,
    private address: PageAddress,
    private readonly unit: PressureUnit,
    private readonly go: (address: PageAddress) => void,
    /** Puts an address in the place of the present one. */
    private readonly keep: (address: PageAddress) => void,
  ) {
    const waiting = make('p', 'progress', `Opening run ${address.run ?? ''}.`);
    waiting.setAttribute('role', 'status');
    this.element.append(waiting);
    this.#open().catch((error: unknown) => {
      if (this.#stop.signal.aborted) return;
      waiting.className = 'problem';
      say(waiting, error instanceof Error ? error.message : String(error));
      this.element.replaceChildren(waiting, this.#back());
    });
  }

  leave(): void {
    clearTimeout(this.#moving);
    this.#stop.abort();
  }

  async #open(): Promise<void> {
    const { client } = this;
    const { signal } = this.#stop;
    const { run, with: beside } = this.address;
    if (run === null) return;
    // Asked for with the rest: a long trace is then drawn as soon as the run is known.
    const wholes = [run, ...(beside === null ? [] : [beside])].map((one) => client.trace(one, { columns: 1200 }, signal));
    // What went wrong is told by whoever waits for it, where anybody still does.
    for (const whole of wholes) whole.catch(() => undefined);
    // Another run that cannot be had must not take this one away.
    let problem: string | null = null;
    const laidUnder = beside === null ? null : client.run(beside, signal).catch((error: unknown) => {
      problem = `Run ${beside} cannot be laid under it: ${error instanceof Error ? error.message : String(error)}`;
      return null;
    });
    const [detail, about, other] = await Promise.all([client.run(run, signal), client.about(run, signal), laidUnder]);
    if (signal.aborted) return;
    if (other === null) this.address = { ...this.address, with: null };
    this.#show(detail, about, other, wholes, problem);
  }

  #show(detail: RunDetail, about: RunAbout, other: RunDetail | null, [whole, otherWhole]: readonly Promise<TraceStretch>[], problem: string | null): void {
    const ask = (run: number) => (window: { from: number; to: number; columns: number }) => this.client.trace(run, window, this.#stop.signal);
    this.#trace = detail.traceRemoved || whole === undefined
      ? null
      : new RunTrace({
          detail, whole, ask: ask(detail.run), align: this.address.align, unit: this.unit, zoom: this.address.zoom,
          other: other === null || other.traceRemoved || otherWhole === undefined ? null : { detail: other, whole: otherWhole, ask: ask(other.run) },
          moved: (zoom) => this.#moved(zoom),
        });
    const trace = this.#trace?.element ?? make('p', 'notice', 'The readings of this run were given up to keep room, as the bench file says. Its record tells what they were.');
    this.element.replaceChildren(
      this.#head(detail, about),
      trace,
      other === null ? this.#chooseOther(detail, problem) : this.#beside(detail, other),
      make('div', 'columns', this.#findings(detail), this.#measured(detail), this.#said(detail, about), this.#papers(detail, about), this.#events(detail)),
    );
  }

  /** A trace that is pulled along gives an address many times a second; browsers refuse that, so it is kept once it rests. */
  #moved(zoom: PageAddress['zoom']): void {
    this.address = { ...this.address, zoom };
    clearTimeout(this.#moving);
    this.#moving = setTimeout(() => this.keep(this.address), 400);
  }

  #back(): HTMLElement {
    return make('p', 'back', this.#way('◂ Runs found', { ...this.address, view: 'runs', run: null, with: null, zoom: null }));
  }

  #way(text: string, address: PageAddress): HTMLAnchorElement {
    const element = link(text, writeAddress(address));
    element.addEventListener('click', (event) => {
      if (event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      this.go(address);
    });
    return element;
  }

  #head(detail: RunDetail, { assemblies, visual }: RunAbout): HTMLElement {
    const { run, result, sealed, wall, from, to, state, reasons, plan, job } = detail;
    const changed = sealed === result ? [] : [make('p', '', `Sealed as ${sealed}; what was said since makes it ${result}.`)];
    const why = result === 'pass' ? ['The pressure was reached, settled, and was held within the limits of the plan.'] : sealed === 'pass' && result === 'fail' && visual !== null ? [`Seen by the operator: ${visual}.`] : reasons;
    const about = [plan?.plan ?? 'no plan', job?.order === undefined ? null : `order ${job.order}`, job?.customer, job?.hose].filter((text) => text != null && text !== '');
    return make(
      'header', 'run-head',
      this.#back(),
      make('div', 'title', make('h2', '', `Run ${run}`), verdictMark(result)),
      make('p', 'when', `${dayAndTime(wall)}, ${duration(to - from)}${state === 'interrupted' ? '; it was not watched to its end' : ''}`),
      make('p', 'about', about.join(' · ')),
      make('ul', 'why', ...why.map((sentence) => make('li', '', inUnit(sentence, this.unit)))),
      ...changed,
      make(
        'ul', 'assemblies',
        ...assemblies.map(({ serial, result: one, reason, leak }) => {
          const mark = verdictMark(one === 'retest alone' ? 'fail' : one);
          mark.lastChild?.replaceWith(`${serial ?? 'Not named'}: ${one}`);
          const told = leak === null || leak === '' ? reason : `leakage seen: ${leak}`;
          return make('li', '', mark, ...(told === null ? [] : [make('span', 'why', told)]));
        }),
      ),
    );
  }

  /** The run that lies under this one, its figures beside this one's. */
  #beside(detail: RunDetail, other: RunDetail): HTMLElement {
    const [a, b] = [`Run ${detail.run}`, `Run ${other.run}`];
    const columns = ['Figure', a, b, 'Difference'];
    const align = select('align', 'Laid over each other at', [['hold', 'the start of the hold'], ['rise', 'the first rise']], this.address.align);
    align.addEventListener('change', (event) => this.go({ ...this.address, zoom: null, align: event.target instanceof HTMLSelectElement && event.target.value === 'rise' ? 'rise' : 'hold' }));
    const rows = comparedFigures(detail, other, this.unit).map((cells) => row(cells.map((text, i) => [columns[i] ?? '', text] as const)));
    const remove = button(`Take run ${other.run} away`, () => this.go({ ...this.address, with: null, zoom: null }));
    const open = this.#way(`Open run ${other.run}`, { ...this.address, run: other.run, with: null, zoom: null });
    open.className = 'button';
    return make(
      'section', 'beside',
      make('h3', '', `Beside run ${other.run} of ${dayAndTime(other.wall)}`),
      ...(other.traceRemoved ? [make('p', 'notice', `The readings of run ${other.run} were given up to keep room.`)] : []),
      make('div', 'beside-bar', align, open, remove),
      table(`Run ${detail.run} and run ${other.run}`, columns, [row([['Figure', 'Result'], [a, verdictMark(detail.result)], [b, verdictMark(other.result)], ['Difference', '']]), ...rows], 'figures'),
    );
  }

  /** @param problem what came of the number that was asked for; `null`: nothing was wrong with it */
  #chooseOther(detail: RunDetail, problem: string | null): HTMLElement {
    const wrong = make('p', 'problem', problem ?? '');
    wrong.id = 'other-problem';
    wrong.setAttribute('role', 'alert');
    const input = document.createElement('input');
    input.name = 'other';
    input.inputMode = 'numeric';
    input.pattern = '[0-9]*';
    input.required = true;
    input.setAttribute('aria-describedby', wrong.id);
    const submit = make('button', '', 'Compare') as HTMLButtonElement;
    submit.type = 'submit';
    const form = make('form', 'beside-bar', make('label', 'field', make('span', '', 'Lay another run under it: its number'), input), submit) as HTMLFormElement;
    form.addEventListener('submit', (event) => {
      event.preventDefault();
      const number = Number(input.value);
      if (number === detail.run) say(wrong, 'That is this very run: give the number of another one.');
      else if (Number.isSafeInteger(number) && number > 0) this.go({ ...this.address, with: number, zoom: null });
    });
    const near = [...new Map(detail.others.map((one) => [one.run, one])).values()].slice(0, 8).map(({ run, serial }) => {
      const way = this.#way(`run ${run} of ${serial}`, { ...this.address, with: run, zoom: null });
      way.className = 'button';
      return way;
    });
    return make('section', 'beside', form, wrong, ...(near.length === 0 ? [] : [make('p', '', 'Other runs of these assemblies:'), make('div', 'links', ...near)]));
  }

  #findings({ outcome }: RunDetail): HTMLElement {
    const items = outcome.findings.map(({ rule, outcome: came, sentence, cycle }) => {
      const mark = verdictMark(came === 'met' ? 'pass' : came === 'broken' ? 'fail' : 'inconclusive');
      mark.lastChild?.replaceWith(`${rule}${cycle === undefined ? '' : `, cycle ${cycle}`}: ${outcomeWords[came]}`);
      return make('li', '', mark, make('span', 'why', inUnit(sentence, this.unit)));
    });
    return make('section', 'findings', make('h3', '', 'Findings'), make('ul', 'told', ...items), ...outcome.notes.map((note) => make('p', 'note', inUnit(note, this.unit))));
  }

  #measured({ outcome }: RunDetail): HTMLElement {
    const lists = outcome.cycles.slice(0, 20).map((cycle, i) =>
      make(
        'div', 'cycle',
        ...(outcome.cycles.length > 1 ? [make('h4', '', `Cycle ${i + 1}: ${cycle.verdict}`)] : []),
        make('dl', '', ...cycleFigures(cycle, this.unit, outcome.signal.resolution).map(([word, text]) => make('div', '', make('dt', '', word), make('dd', '', text)))),
      ),
    );
    const more = outcome.cycles.length > 20 ? [make('p', 'note', `${outcome.cycles.length - 20} more cycles are in the record.`)] : [];
    return make('section', 'measured', make('h3', '', 'Measured'), ...(lists.length === 0 ? [make('p', 'none', 'No cycle was found in it.')] : lists), ...more);
  }

  #said({ versions }: RunDetail, { said }: RunAbout): HTMLElement {
    const items = said.map(({ kind, who, why, wall, words }) => make('li', '', make('span', 'words', `${kind.replaceAll('-', ' ')}: ${words}`), make('span', 'why', `${who}, ${dayAndTime(wall)}${why === null ? '' : `; why: ${why}`}`)));
    const facts: [string, string | null][] = [['Transducer', versions.instrument], ['Software', versions.software], ['Plan version', versions.plan], ['Thresholds version', versions.thresholds], ['Newest seal', versions.seal]];
    return make(
      'section', 'said',
      make('h3', '', 'Said about it'),
      items.length === 0 ? make('p', 'none', 'Nothing yet.') : make('ol', 'told', ...items),
      make('details', '', make('summary', '', 'What it rests on'), make('dl', '', ...facts.flatMap(([word, text]) => (text === null ? [] : [make('div', '', make('dt', '', word), make('dd', 'code', text))])))),
    );
  }

  #papers({ run, job }: RunDetail, { document: paper, assemblies }: RunAbout): HTMLElement {
    const name = paper.kind === 'report' ? 'report' : 'certificate';
    const file = (path: string, query = {}): string => this.client.document(run, path, query);
    const serials = assemblies.flatMap(({ serial }) => serial ?? []);
    const standing = paper.kind === 'certificate' ? 'Complete: it can be handed over.' : paper.kind === 'provisional' ? `Provisional, ${paper.sentence}.` : 'Not passed: a report, no certificate.';
    return make(
      'section', 'papers',
      make('h3', '', 'Documents'),
      make('p', '', standing),
      make(
        'div', 'links',
        fileLink(`Save ${name}`, file('certificate.pdf'), 'button strong'),
        openLink('Open to print', file('certificate.pdf', { view: 1 })),
        openLink('Label 58 mm', file('label.pdf', { width: 58, view: 1 })),
        openLink('Label 80 mm', file('label.pdf', { width: 80, view: 1 })),
        fileLink('Findings (CSV)', file('record.csv')),
        fileLink('Trace (CSV)', file('trace.csv')),
        fileLink('Record (JSON)', file('record.json')),
        ...(serials.length > 1 ? serials.slice(0, 20).map((serial) => fileLink(`${name} ${serial}`, file('certificate.pdf', { assembly: serial }))) : []),
      ),
      ...(job?.order === undefined ? [] : [make('p', '', this.#way(`All runs of order ${job.order}`, { ...this.address, view: 'runs', run: null, with: null, zoom: null, search: { order: job.order } }))]),
    );
  }

  #events({ outcome, wall, from }: RunDetail): HTMLElement {
    const shown = (bar: number): string => pressureText(bar, this.unit, outcome.signal.resolution);
    const found = outcome.events.filter(({ kind }) => kind !== 'stroke');
    const items = found.slice(0, mostEvents).map((event) => {
      const sentence = eventSentence(event, shown, duration);
      const item = make('li', lookOf(event.kind).grave ? 'grave' : '', make('time', '', clockTime(event.at, { time: from, wall }, 1)), make('span', 'why', sentence));
      if (this.#trace !== null) {
        const show = button('Show', () => this.#trace?.showMoment(event.at));
        show.setAttribute('aria-label', `Show ${sentence} on the trace`);
        item.append(show);
      }
      return item;
    });
    const more = found.length > mostEvents ? [make('p', 'note', `${found.length - mostEvents} more are in the record.`)] : [];
    return make('section', 'events', make('h3', '', 'Found in the signal'), items.length === 0 ? make('p', 'none', 'Nothing unusual.') : make('ol', 'told', ...items), ...more);
  }
}
