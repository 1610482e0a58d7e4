import type { Thresholds } from '../../src/core/thresholds.js';
import { make, part, say } from '../shared/page-parts.js';
import { thresholdControls, type ThresholdKey } from './threshold-controls.js';
import { numberIn } from './threshold-values.js';
import { countWords, curveOf, tradeOff, type CurvePoint, type Share, type TradeOff } from './trade-off.js';
import { Refusal } from './tuning-api.js';

const drawing = 'http://www.w3.org/2000/svg';
const [width, height, left, right, top, foot] = [760, 200, 46, 130, 12, 26];

/** How often sound and leaking runs would be judged wrongly at each value of a threshold, by the runs that are labelled. */
export class TradeOffPanel {
  private key: ThresholdKey = 'spikeHeight';
  private going: AbortController | null = null;

  /** @param take puts a value on trial */
  constructor(private readonly base: string, private readonly thresholds: () => Thresholds, private readonly take: (key: ThresholdKey, text: string) => void) {
    const select = part('sweep-key') as HTMLSelectElement;
    select.append(...thresholdControls.map(({ key, label }) => new Option(label, key)));
    select.addEventListener('change', () => this.choose(select.value as ThresholdKey));
    part('sweep-form').addEventListener('submit', (event) => {
      event.preventDefault();
      void this.sweep();
    });
    part('sweep-stop').addEventListener('click', () => this.going?.abort());
    this.choose('settleSlope');
  }

  /** Proposes a range around the threshold as it stands. */
  choose(key: ThresholdKey): void {
    this.key = key;
    const control = thresholdControls.find((other) => other.key === key);
    if (control === undefined) return;
    (part('sweep-key') as HTMLSelectElement).value = key;
    const now = numberIn(this.thresholds()[key], control.unit, 400);
    const round = (value: number): number => Number(Math.min(Math.max(value, control.usual[0]), control.usual[1]).toPrecision(2));
    (part('sweep-from') as HTMLInputElement).value = `${round(now / 3)} ${control.unit}`;
    (part('sweep-to') as HTMLInputElement).value = `${round(now * 3)} ${control.unit}`;
  }

  private async sweep(): Promise<void> {
    const [from, to] = [(part('sweep-from') as HTMLInputElement).value.trim(), (part('sweep-to') as HTMLInputElement).value.trim()];
    const { key } = this;
    this.going?.abort();
    const stopping = new AbortController();
    this.going = stopping;
    this.show(0, 0);
    say(part('sweep-words'), 'judging the labelled runs…');
    let told = '';
    try {
      const found = await tradeOff(this.base, `${key}=${from}..${to}/9`, (done, of) => {
        if (this.going !== stopping) return;
        told = ` after ${done} of ${of} runs`;
        this.show(done, of);
        say(part('sweep-words'), `${done} of ${of} runs judged`);
      }, stopping.signal);
      if (this.going === stopping) this.draw(key, found);
    } catch (error) {
      // A newer one has taken its place.
      if (this.going !== stopping) return;
      if (stopping.signal.aborted) say(part('sweep-words'), `Stopped${told}; what is shown below is from before.`);
      else if (error instanceof Refusal) say(part('sweep-words'), error.problems.length > 0 ? error.problems.map(({ text }) => text).join('; ') : error.message);
      else throw error;
    } finally {
      if (this.going === stopping) {
        this.going = null;
        this.show(0, null);
      }
    }
  }

  /** How far it is. @param of `null` where nothing goes on */
  private show(done: number, of: number | null): void {
    const bar = part('sweep-progress') as HTMLProgressElement;
    bar.hidden = of === null;
    bar.max = Math.max(of ?? 1, 1);
    bar.value = done;
    part('sweep-stop').hidden = of === null;
  }

  private draw(key: ThresholdKey, found: TradeOff): void {
    const { leaking, sound, untold } = found.labelled;
    say(part('sweep-words'), [`${leaking} truly leaking and ${sound} truly sound runs${untold === 0 ? '' : `, ${untold} that cannot tell`}.`, ...found.notes, ...found.problems].join(' '));
    const values = found.rows.map((row) => row.values[key] ?? '');
    const [passes, fails] = [curveOf(found.rows.map((row) => row.falsePass)), curveOf(found.rows.map((row) => row.falseFail))];
    const host = part('sweep-curve');
    host.hidden = passes.length + fails.length === 0;
    host.setAttribute('aria-label', 'Share of runs that would pass wrongly and of those that would fail wrongly, over the values; the table below has the same numbers.');
    host.replaceChildren(picture(values, passes, fails));
    const head = make('thead', '', make('tr', '', ...['Value', 'Would pass wrongly', 'Would fail wrongly', 'Left undecided', 'Real spikes missed', 'Told and not real', 'On trial'].map((word) => {
      const cell = make('th', '', word);
      cell.setAttribute('scope', 'col');
      return cell;
    })));
    const rows = found.rows.map((row, i) => this.row(key, values[i] ?? '', row, i === found.cheapest));
    part('sweep-table').replaceChildren(make('table', '', head, make('tbody', '', this.row(key, 'as each was judged', found.present, false), ...rows)));
  }

  private row(key: ThresholdKey, value: string, row: Pick<TradeOff['present'], 'falsePass' | 'falseFail' | 'undecided' | 'spikesMissed' | 'falseSpikes'>, best: boolean): HTMLElement {
    const name = make('th', '', value, ...(best ? [' ', make('span', 'mark', 'costs least')] : []));
    name.setAttribute('scope', 'row');
    const words = (share: Share): string => `${countWords(share)}${share.of === 0 ? '' : `, at most ${Math.ceil(share.upper * 100)} %`}`;
    const action = make('td', '');
    if (/\d/.test(value)) {
      const take = make('button', 'back', `Try ${value}`);
      take.setAttribute('type', 'button');
      take.addEventListener('click', () => this.take(key, value));
      action.append(take);
    }
    return make('tr', best ? 'differs' : '', name, make('td', '', words(row.falsePass)), make('td', '', words(row.falseFail)), make('td', '', countWords(row.undecided)), make('td', '', countWords(row.spikesMissed)), make('td', '', countWords(row.falseSpikes)), action);
  }
}

function element(tag: string, attributes: Readonly<Record<string, string | number>>, text = ''): SVGElement {
  const found = document.createElementNS(drawing, tag);
  for (const [name, value] of Object.entries(attributes)) found.setAttribute(name, String(value));
  found.textContent = text;
  return found;
}

/** Both curves with the intervals in which the true shares lie. */
function picture(values: readonly string[], passes: readonly CurvePoint[], fails: readonly CurvePoint[]): SVGElement {
  const svg = element('svg', { viewBox: `0 0 ${width} ${height}`, width: '100%', height: '100%', preserveAspectRatio: 'xMidYMid meet' });
  const x = (at: number): number => left + at * (width - left - right);
  const y = (share: number): number => top + (1 - share) * (height - top - foot);
  for (const share of [0, 0.25, 0.5, 0.75, 1]) {
    svg.append(element('line', { class: 'axis', x1: left, x2: width - right, y1: y(share), y2: y(share) }), element('text', { x: left - 6, y: y(share) + 4, 'text-anchor': 'end' }, `${share * 100} %`));
  }
  values.forEach((value, i) => {
    if (i % 2 === 0) svg.append(element('text', { x: x(values.length < 2 ? 0.5 : i / (values.length - 1)), y: height - 7, 'text-anchor': 'middle' }, value));
  });
  for (const [name, words, points] of [['leaking', 'pass wrongly', passes], ['sound', 'fail wrongly', fails]] as const) {
    const last = points[points.length - 1];
    if (last === undefined) continue;
    const path = (of: readonly (readonly [number, number])[]): string => of.map(([px, py], i) => `${i === 0 ? 'M' : 'L'}${px.toFixed(1)} ${py.toFixed(1)}`).join('');
    const around = [...points.map(({ at, upper }) => [x(at), y(upper)] as const), ...[...points].reverse().map(({ at, lower }) => [x(at), y(lower)] as const)];
    svg.append(
      element('path', { class: `range ${name}`, d: `${path(around)}Z` }),
      element('path', { class: `line ${name}`, d: path(points.map(({ at, share }) => [x(at), y(share)] as const)) }),
      element('text', { class: name, x: width - right + 6, y: Math.min(y(last.share) + (name === 'sound' ? 14 : -2), height - foot - (name === 'sound' ? 2 : 18)) }, words),
    );
  }
  return svg;
}
