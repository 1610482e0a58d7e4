import type { PressureUnit } from '../../src/core/units.js';
import type { RunDetail, TraceStretch } from '../../src/server/history-answers.js';
import { pressureText } from '../shared/figures.js';
import { make, say } from '../shared/page-parts.js';
import { clockTime, signedDuration } from '../shared/time-words.js';
import { MeasuringMark } from '../shared/measuring-mark.js';
import { TraceChart } from '../shared/trace-chart.js';
import { followPointers } from '../shared/trace-pointers.js';
import { panned, spanOf, zoomed, type Extent, type Span, type TraceWindow } from '../shared/trace-window.js';
import { alignment, gapsOf, type Align } from './run-alignment.js';
import { button } from './page-elements.js';
import { StoredTrace, type AskStretch } from './stored-trace.js';

export interface OverlaidRun {
  readonly detail: RunDetail;
  readonly ask: AskStretch;
  /** All of it, asked for already. */
  readonly whole: Promise<TraceStretch>;
}

export interface RunTraceOptions {
  readonly detail: RunDetail;
  readonly ask: AskStretch;
  readonly whole: Promise<TraceStretch>;
  readonly other: OverlaidRun | null;
  readonly align: Align;
  readonly unit: PressureUnit;
  /** s from the start of the run. */
  readonly zoom: readonly [from: number, to: number] | null;
  /** The window is another one; `null` for the whole run. */
  readonly moved: (zoom: readonly [from: number, to: number] | null) => void;
}

/** The trace of a run on record, with its buttons, keys and reading line; another run may lie under it. */
export class RunTrace {
  readonly element = make('section', 'trace');
  readonly #host = make('div', 'chart');
  readonly #readout = make('p', 'readout');
  readonly #whole: HTMLButtonElement;
  readonly #measureButton: HTMLButtonElement;
  readonly #chart: TraceChart;
  readonly #own: StoredTrace;
  readonly #other: StoredTrace | null;
  #window: TraceWindow;
  #cursor: number | null = null;
  readonly #mark = new MeasuringMark();
  #drawing = false;

  constructor(private readonly options: RunTraceOptions) {
    const { detail, ask, whole, other, align, zoom } = options;
    const arrived = (problem: string | null): void => {
      if (problem !== null) say(this.#readout, problem);
      else this.#redraw();
    };
    this.#own = new StoredTrace(ask, gapsOf(detail, 0), 0, arrived, whole);
    const shift = other === null ? 0 : alignment(detail, align) - alignment(other.detail, align);
    this.#other = other && new StoredTrace(other.ask, [], shift, arrived, other.whole);
    this.#window = zoom === null ? { kind: 'run' } : { kind: 'fixed', from: detail.from + zoom[0], to: detail.from + zoom[1] };
    this.#whole = button('Whole run', () => this.#go({ kind: 'run' }));
    this.#measureButton = button('Measure', () => this.#measure(() => this.#mark.press()));
    this.#measureButton.setAttribute('aria-pressed', 'false');
    this.#build();
    this.#chart = new TraceChart(this.#host, this.#own, (time) => {
      this.#cursor = time;
      this.#read();
    });
    followPointers(this.#chart.surface, {
      drag: (from, to) => this.#go(panned(this.#span, (this.#chart.timeAt(from) - this.#chart.timeAt(to)) / this.#length, this.#extent)),
      zoom: (factor, left) => this.#zoom(factor, this.#chart.timeAt(left)),
      home: () => this.#go({ kind: 'run' }),
      touched: () => this.#readout.setAttribute('aria-live', 'off'),
      click: (left) => this.#measure(() => this.#mark.click(this.#chart.timeAt(left))),
    });
    this.#host.addEventListener('keydown', (event) => this.#key(event));
    this.#read();
    // The chart learns its size once it is in the page.
    requestAnimationFrame(() => this.#draw());
  }

  /** Shows ten seconds around a moment, s on the store's clock. */
  showMoment(time: number): void {
    this.#go({ kind: 'fixed', from: time - 5, to: time + 5 });
    this.#host.scrollIntoView({ block: 'nearest' });
  }

  #build(): void {
    const { detail, other } = this.options;
    const named = (text: string, name: string, act: () => void): HTMLButtonElement => {
      const element = button(text, act);
      element.setAttribute('aria-label', name);
      return element;
    };
    const buttons = make(
      'div', 'buttons', this.#whole,
      ...holdsOf(detail).slice(0, 1).map((hold) => button('Hold', () => this.#go({ kind: 'fixed', from: hold.from - 0.05 * (hold.to - hold.from), to: hold.to + 0.05 * (hold.to - hold.from) }))),
      named('◂', 'Earlier', () => this.#go(panned(this.#span, -0.4, this.#extent))), named('▸', 'Later', () => this.#go(panned(this.#span, 0.4, this.#extent))),
      named('+', 'Nearer', () => this.#zoom(0.5)), named('−', 'Farther', () => this.#zoom(2)), this.#measureButton,
    );
    buttons.setAttribute('role', 'group');
    buttons.setAttribute('aria-label', 'What the trace shows');
    this.#host.tabIndex = 0;
    this.#host.setAttribute('role', 'group');
    this.#host.setAttribute('aria-label', 'Pressure over time. Arrow keys move the reading line, with Shift they move the stretch shown; plus and minus go nearer and farther; M sets the measuring mark; Home shows the whole run.');
    const key = other === null ? [] : [make('p', 'key', make('span', 'line own'), `run ${detail.run}`, make('span', 'line other'), `run ${other.detail.run}, moved to the same ${this.options.align === 'hold' ? 'start of hold' : 'first rise'}`)];
    this.element.setAttribute('aria-label', 'Trace');
    this.element.append(make('div', 'bar', this.#readout, buttons), ...key, this.#host);
  }

  #redraw(): void {
    if (this.#drawing) return;
    this.#drawing = true;
    requestAnimationFrame(() => {
      this.#drawing = false;
      this.#draw();
    });
  }

  #draw(): void {
    if (!this.#host.isConnected) return;
    const { detail, unit } = this.options;
    const span = this.#span;
    const columns = Math.max(Math.round(this.#chart.surface.clientWidth * Math.min(devicePixelRatio, 2)), 100);
    this.#own.want(span, columns);
    this.#other?.want(span, columns);
    this.#chart.draw({
      span, unit,
      whole: this.#window.kind === 'run',
      plan: detail.lines,
      gap: Math.max(detail.gap, this.#own.columnWithin(span)),
      anchor: { time: detail.from, wall: detail.wall },
      resolution: detail.outcome.signal.resolution,
      holds: holdsOf(detail),
      events: detail.outcome.events,
      earlier: this.#other === null ? null : this.#under(this.#other, span),
      mark: this.#mark.at,
    });
    this.#read();
  }

  /** The part of the other run that is in the picture, with one point more on either side. */
  #under(other: StoredTrace, { from, to }: Span): { time: Float64Array; pressure: Float64Array } {
    const [start, end] = [Math.max(other.indexAt(from) - 1, 0), Math.min(other.indexAt(to) + 1, other.end)];
    return { time: other.time.subarray(start, end), pressure: other.pressure.subarray(start, end) };
  }

  get #extent(): Extent {
    const { readFrom, readTo, from } = this.options.detail;
    return { oldest: readFrom, newest: readTo, runSince: from };
  }
  get #span(): Span {
    return spanOf(this.#window, this.#extent);
  }
  get #length(): number {
    return this.#span.to - this.#span.from;
  }

  #go(window: TraceWindow): void {
    this.#window = window;
    this.#whole.setAttribute('aria-pressed', String(window.kind === 'run'));
    this.#host.dataset['window'] = window.kind;
    const { from } = this.options.detail;
    this.options.moved(window.kind === 'fixed' ? [window.from - from, window.to - from] : null);
    this.#redraw();
  }

  #zoom(factor: number, at?: number): void {
    const { from, to } = this.#span;
    this.#go(zoomed(this.#span, factor, at ?? this.#cursor ?? (from + to) / 2, this.#extent));
  }

  #measure(act: () => void): void {
    act();
    this.#measureButton.setAttribute('aria-pressed', String(this.#mark.on));
    this.#redraw();
  }

  #markHere(): void {
    const { from, to } = this.#span;
    this.#measure(() => this.#mark.setOrClear(this.#cursor ?? (from + to) / 2));
  }

  #key(event: KeyboardEvent): void {
    const acts: Readonly<Record<string, () => void>> = {
      ArrowLeft: () => this.#step(-1, event.shiftKey),
      ArrowRight: () => this.#step(1, event.shiftKey),
      '+': () => this.#zoom(0.5), '=': () => this.#zoom(0.5), '-': () => this.#zoom(2),
      Home: () => this.#go({ kind: 'run' }),
      m: () => this.#markHere(), M: () => this.#markHere(),
    };
    const act = acts[event.key];
    if (!act || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    this.#readout.setAttribute('aria-live', 'polite');
    act();
  }

  #step(direction: number, pan: boolean): void {
    if (pan) return this.#go(panned(this.#span, 0.2 * direction, this.#extent));
    const { from, to } = this.#span;
    this.#cursor = Math.min(Math.max((this.#cursor ?? (from + to) / 2) + (direction * (to - from)) / 200, from), to);
    this.#chart.point(this.#cursor);
    this.#read();
  }

  /** Time and pressure under the reading line; what the other run had then; the distance from the mark. */
  #read(): void {
    const { detail, other } = this.options;
    const at = this.#cursor;
    if (this.#mark.aiming) return say(this.#readout, 'Click on the trace where measuring begins.');
    if (at === null) return say(this.#readout, this.#own.end === 0 ? 'Reading the trace.' : 'Point at the trace to read it.');
    const own = this.#reading(this.#own, at);
    const since = at - alignment(detail, this.options.align);
    const time = other === null ? clockTime(own.time, { time: detail.from, wall: detail.wall }, 2) : `${since < 0 ? '−' : '+'}${Math.abs(since).toFixed(2)} s`;
    const beside = this.#other === null || other === null ? '' : this.#besides(own.pressure, this.#reading(this.#other, at).pressure, other.detail.run);
    const mark = this.#mark.at === null ? null : this.#reading(this.#own, this.#mark.at);
    const apart = mark === null ? '' : `; from the mark ${signedDuration(own.time - mark.time)} and ${this.#difference(own.pressure, mark.pressure)}`;
    say(this.#readout, `${time}, ${this.#text(own.pressure)}${beside}${apart}`);
  }

  #besides(own: number, other: number, run: number): string {
    return Number.isNaN(other) ? `; run ${run} has no reading there` : `; run ${run} ${this.#text(other)}, difference ${this.#difference(own, other)}`;
  }

  /** The highest point under the line's pixel, so that a spike can be pointed at; the nearest one where there is none. */
  #reading(source: StoredTrace, time: number): { readonly time: number; readonly pressure: number } {
    const half = this.#length / Math.max(this.#chart.surface.clientWidth, 1);
    let best = -1;
    for (let i = source.indexAt(time - half); i < source.end && (source.time[i] ?? 0) <= time + half; i++) {
      if (!Number.isNaN(source.pressure[i]) && (best < 0 || (source.pressure[i] ?? 0) > (source.pressure[best] ?? 0))) best = i;
    }
    if (best < 0) best = source.nearest(time, Math.max(this.options.detail.gap / 2, half));
    return { time: source.time[best] ?? time, pressure: source.pressure[best] ?? Number.NaN };
  }

  #difference(a: number, b: number): string {
    return Number.isNaN(a - b) ? 'no reading there' : `${a >= b ? '+' : ''}${this.#text(a - b)}`;
  }

  #text(bar: number): string {
    return Number.isNaN(bar) ? 'no reading' : pressureText(bar, this.options.unit, this.options.detail.outcome.signal.resolution);
  }
}

const holdsOf = ({ outcome }: RunDetail): Span[] => outcome.cycles.flatMap(({ settled, holdEnd }) => (settled === null || holdEnd === null ? [] : [{ from: settled, to: holdEnd }]));
