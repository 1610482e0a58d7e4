import type { PressureUnit } from '../../src/core/units.js';
import type { Counts, Group, Groups, Statistics } from '../../src/server/history-answers.js';
import { localFigure } from '../shared/figures.js';
import { make, say } from '../shared/page-parts.js';
import { controlCharts } from './control-chart.js';
import { histogram } from './histogram.js';
import type { HistoryClient } from './history-client.js';
import { emptyAddress, writeAddress, type PageAddress, type StatisticsAddress } from './page-address.js';
import { dayAndTime, fileLink, link, row, select, table } from './page-elements.js';
import { valueText } from './run-figures.js';

const groupColumns = ['Plan', 'Hose', 'First tests passed', 'Pass', 'Fail', 'Inconclusive', 'Retests passed', 'Newest'];

/** Pass rates of every plan and hose that was tested, and the charts of one of them. */
export class StatisticsView {
  readonly element = make('article', 'statistics');
  readonly #stop = new AbortController();
  readonly #leaving: (() => void)[] = [];

  constructor(
    private readonly client: HistoryClient,
    private readonly address: PageAddress,
    private readonly unit: PressureUnit,
    private readonly go: (address: PageAddress) => void,
  ) {
    const waiting = make('p', 'progress', 'Counting the runs on record.');
    waiting.setAttribute('role', 'status');
    this.element.append(waiting);
    const { statistics } = address;
    const work = statistics === null ? this.#showGroups() : this.#showOne(statistics);
    work.catch((error: unknown) => {
      if (this.#stop.signal.aborted) return;
      waiting.className = 'problem';
      say(waiting, error instanceof Error ? error.message : String(error));
    });
  }

  leave(): void {
    this.#stop.abort();
    for (const leave of this.#leaving) leave();
  }

  async #showGroups(): Promise<void> {
    const found = await this.client.groups(this.#stop.signal);
    this.element.replaceChildren(
      make('h2', '', 'Pass rates by plan and hose'),
      make('p', 'note', counted(found)),
      found.groups.length === 0 ? make('p', 'none', 'No run is over yet.') : table('Pass rates by plan and hose', groupColumns, found.groups.map((group) => this.#group(group)), 'groups'),
      method(),
    );
  }

  #group({ plan, hose, first, retests, newest }: Group): HTMLElement {
    const way = this.#way(plan === '' ? 'no plan' : plan, { plan, hose, measure: 'leak', together: null });
    way.setAttribute('aria-label', `Charts of ${plan === '' ? 'runs without a plan' : plan}, ${hose === '' ? 'hose not named' : hose}`);
    const texts = [way, hose === '' ? 'not named' : hose, shareText(first), String(first.pass), String(first.fail), String(first.inconclusive), countText(retests), dayAndTime(newest)];
    return row(texts.map((text, i) => [groupColumns[i] ?? '', text] as const));
  }

  #way(text: string, statistics: StatisticsAddress | null): HTMLAnchorElement {
    const address: PageAddress = { ...this.address, view: 'statistics', statistics };
    const element = link(text, writeAddress(address));
    element.addEventListener('click', (event) => {
      if (event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      this.go(address);
    });
    return element;
  }

  async #showOne(wanted: StatisticsAddress): Promise<void> {
    const found = await this.client.statistics(wanted, this.#stop.signal);
    const charts = controlCharts(found, this.unit, (run) => this.go({ ...emptyAddress(this.address.bench), view: 'run', run }));
    if (charts !== null) this.#leaving.push(charts.leave);
    const spread = found.distribution === null ? null : histogram(found, this.unit);
    if (spread !== null) this.#leaving.push(spread.leave);
    this.element.replaceChildren(
      make('p', 'back', this.#way('◂ All plans and hoses', null)),
      make('h2', '', `${wanted.plan === '' ? 'No plan' : wanted.plan}, ${wanted.hose === '' ? 'hose not named' : wanted.hose}`),
      this.#choices(wanted, found),
      make('section', 'rates', make('h3', '', 'Pass rate'), ...rates(found)),
      make('section', 'over-time', make('h3', '', `${wordOf(found)}, run by run`), make('ul', 'sentences', ...found.sentences.map((sentence) => make('li', '', sentence))), ...(charts === null ? [] : [charts.element]), this.#outstanding(found)),
      make('section', 'spread', make('h3', '', `How the ${wordOf(found).toLowerCase()} is spread`), ...(spread === null ? [make('p', 'none', 'There is no figure to show yet.')] : [spread.element, figures(found, this.unit)])),
      rules(found),
      method(found.leftOut),
    );
  }

  #choices(wanted: StatisticsAddress, { points }: Statistics): HTMLElement {
    const counts = [...new Set([...points.map(({ assemblies }) => assemblies), ...(wanted.together === null ? [] : [wanted.together])])].sort((a, b) => a - b);
    const measure = select('measure', 'Figure', [['leak', 'Steady loss (leak rate)'], ['drop', 'Loss in the hold']], wanted.measure);
    const together = select('together', 'Assemblies at once', [['', 'any number'], ...counts.map((n) => [String(n), String(n)] as const)], wanted.together === null ? '' : String(wanted.together));
    const chosen = (element: HTMLElement): string => element.querySelector('select')?.value ?? '';
    const changed = (): void => {
      const count = Number(chosen(together));
      this.go({ ...this.address, statistics: { ...wanted, measure: chosen(measure) === 'drop' ? 'drop' : 'leak', together: count > 0 ? count : null } });
    };
    measure.addEventListener('change', changed);
    together.addEventListener('change', changed);
    return make('div', 'choices-bar', measure, together, fileLink('Save as CSV', this.client.statisticsTable(wanted)));
  }

  /** The runs that broke a rule, the newest first, as ways to open them. */
  #outstanding({ chart, points, rules: words }: Statistics): HTMLElement {
    const told = new Map<number, string[]>();
    for (const { at, rule, side } of chart?.broken ?? []) told.set(at, [...(told.get(at) ?? []), `${side}: ${words[rule] ?? rule}`]);
    if (told.size === 0) return make('p', 'note', chart === null ? '' : 'No run stands out.');
    const items = [...told].sort(([a], [b]) => b - a).slice(0, 12).map(([at, rulesBroken]) => {
      const run = points[chart?.at[at] ?? -1]?.run ?? 0;
      const address: PageAddress = { ...emptyAddress(this.address.bench), view: 'run', run };
      return make('li', '', link(`Run ${run}`, writeAddress(address)), make('span', 'why', rulesBroken.join('; ')));
    });
    return make('details', '', make('summary', '', `Runs that stand out: ${told.size}`), make('ul', 'told', ...items));
  }
}

const wordOf = ({ measure }: Statistics): string => (measure === 'leak' ? 'Steady loss' : 'Loss in the hold');

const percent = (share: number): string => `${localFigure((100 * share).toFixed(share > 0.995 && share < 1 ? 2 : 1).replace(/\.0+$/, ''))} %`;
const shareText = ({ rate }: Counts): string => (rate === null ? '–' : `${percent(rate.share)} (${percent(rate.lower)} to ${percent(rate.upper)})`);
const countText = ({ pass, fail, inconclusive }: Counts): string => (pass + fail + inconclusive === 0 ? 'none' : `${pass} of ${pass + fail}${inconclusive === 0 ? '' : `, ${inconclusive} inconclusive`}`);

function counted({ looked, leftOut }: Groups): string {
  return `${looked} sealed ${looked === 1 ? 'run' : 'runs'} counted${leftOut === 0 ? '' : `, the newest; ${leftOut} older ones were left out`}.`;
}

function rates({ first, retests, assemblies }: Statistics): HTMLElement[] {
  const columns = ['What', 'Passed', 'Pass', 'Fail', 'Apart'];
  const lines: [string, Counts, string][] = [
    ['First tests', first, `${first.inconclusive} inconclusive`],
    ['Retests', retests, `${retests.inconclusive} inconclusive`],
    ['Assemblies, first test', assemblies, `${assemblies.inconclusive} inconclusive, ${assemblies.retestAlone} to be retested alone`],
  ];
  return [table('Pass rates', columns, lines.map(([word, counts, apart]) => row([['What', word], ['Passed', shareText(counts)], ['Pass', String(counts.pass)], ['Fail', String(counts.fail)], ['Apart', apart]])), 'figures')];
}

function figures(found: Statistics, unit: PressureUnit): HTMLElement {
  const spread = found.distribution;
  if (spread === null) return make('p', '');
  const entries: [string, number | null][] = [
    ['Lowest', spread.lowest], ['A quarter below', spread.quarter], ['Median', spread.median], ['A quarter above', spread.threeQuarters], ['Highest', spread.highest], ['Mean', spread.mean], ['Standard deviation', spread.deviation],
  ];
  return make('dl', 'figures-list', ...entries.map(([word, value]) => make('div', '', make('dt', '', word), make('dd', '', value === null ? '–' : valueText(value, found, unit)))));
}

function rules({ rules: words, chart }: Statistics): HTMLElement {
  return make(
    'details', 'rules',
    make('summary', '', 'How the chart is read'),
    make('p', '', `Individuals and moving-range chart: the limits lie 3 standard deviations from the centre, and the standard deviation is the mean step from one test to the next divided by 1.128${chart === null ? '' : `, taken from the first ${chart.baseline} tests that passed`}. The moving average (EWMA) gives the newest test a weight of 0.3; its limits lie 3 of its own standard deviations from the centre. It shows a slow drift, such as a crimp die that wears, before a single test stands out. Method: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.`),
    make('p', '', 'A test stands out when one of these holds; chance alone does that about once in 92 tests:'),
    make('ul', 'plain', ...Object.values(words).map((text) => make('li', '', text))),
  );
}

const method = (leftOut = 0): HTMLElement =>
  make(
    'p', 'note',
    `Only sealed results count, with a later judgement and what a person saw. A retest counts as its own, never as a first test; inconclusive runs stand apart and are neither pass nor fail. The range in brackets holds the true pass rate with 95 % confidence (Wilson).${leftOut === 0 ? '' : ` ${leftOut} older runs were left out.`}`,
  );

