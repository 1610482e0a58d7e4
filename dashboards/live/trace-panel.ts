import type { PressureUnit } from '../../src/core/units.js';
import { pressureText } from '../shared/figures.js';
import type { LiveState } from './live-state.js';
import { part, say } from '../shared/page-parts.js';
import { clockTime, signedDuration } from '../shared/time-words.js';
import type { TraceBuffer } from '../shared/trace-buffer.js';
import { MeasuringMark } from '../shared/measuring-mark.js';
import { TraceChart, type EarlierRun } from '../shared/trace-chart.js';
import { followPointers } from '../shared/trace-pointers.js';
import { panned, spanOf, zoomed, type Extent, type Span, type TraceWindow } from '../shared/trace-window.js';

/** The trace with its buttons, keys and reading line. Looking back never stops what comes in. */
export class TracePanel {
  readonly #chart: TraceChart;
  #window: TraceWindow = { kind: 'run' };
  #cursor: number | null = null;
  readonly #mark = new MeasuringMark();
  #state: LiveState | null = null;
  #unit: PressureUnit = 'bar';
  #earlier: EarlierRun | null = null;
  #readByKeys = false;

  constructor(
    private readonly buffer: TraceBuffer,
    private readonly redraw: () => void,
  ) {
    const host = part('chart');
    this.#chart = new TraceChart(host, buffer, (time) => {
      this.#cursor = time;
      this.#read();
    });
    followPointers(this.#chart.surface, {
      drag: (from, to) => this.#go(panned(this.#span, (this.#chart.timeAt(from) - this.#chart.timeAt(to)) / this.#length, this.#extent)),
      zoom: (factor, left) => this.#zoom(factor, this.#chart.timeAt(left)),
      home: () => this.#go({ kind: 'run' }),
      touched: () => (this.#readByKeys = false),
      click: (left) => this.#measure(() => this.#mark.click(this.#chart.timeAt(left))),
    });
    host.addEventListener('keydown', (event) => this.#key(event));
    const on = (id: string, act: () => void): void => part(id).addEventListener('click', act);
    on('show-run', () => this.#go({ kind: 'run' }));
    on('show-minute', () => this.#go({ kind: 'last', seconds: 60 }));
    on('earlier-in-time', () => this.#go(panned(this.#span, -0.4, this.#extent)));
    on('later-in-time', () => this.#go(panned(this.#span, 0.4, this.#extent)));
    on('nearer', () => this.#zoom(0.5));
    on('farther', () => this.#zoom(2));
    on('measure', () => this.#measure(() => this.#mark.press()));
  }

  show(state: LiveState | null, unit: PressureUnit): void {
    this.#state = state;
    this.#unit = unit;
    const setup = state?.setup;
    this.#chart.draw({
      span: this.#span,
      whole: this.#window.kind === 'run',
      plan: setup?.plan ?? null,
      gap: setup?.gap ?? 1,
      anchor: setup?.anchor ?? { time: 0, wall: 0 },
      unit,
      resolution: setup?.resolution ?? null,
      holds: holdsOf(state),
      events: state?.events ?? [],
      earlier: this.#earlier,
      mark: this.#mark.at,
    });
    this.#read();
  }

  /** Where the present run began, or the last one: an earlier run is laid with its start there. */
  get runStart(): number | null {
    return this.#extent.runSince;
  }

  layUnder(run: EarlierRun | null): void {
    this.#earlier = run;
    this.redraw();
  }

  /** Shows ten seconds around a moment. */
  showMoment(time: number): void {
    this.#go({ kind: 'fixed', from: time - 5, to: time + 5 });
  }

  get #extent(): Extent {
    const { oldestTime: oldest, newestTime: newest } = this.buffer;
    const last = this.#state?.runs.find(({ session }) => session === this.#state?.session);
    return { oldest, newest, runSince: this.#state?.view?.runSince ?? last?.from ?? null };
  }
  get #span(): Span {
    return spanOf(this.#window, this.#extent);
  }
  get #length(): number {
    return this.#span.to - this.#span.from;
  }

  #go(window: TraceWindow): void {
    this.#window = window;
    say(part('show-run'), window.kind === 'fixed' ? 'Back to live' : 'Whole run');
    part('show-run').classList.toggle('strong', window.kind === 'fixed');
    part('show-run').setAttribute('aria-pressed', String(window.kind === 'run'));
    part('show-minute').setAttribute('aria-pressed', String(window.kind === 'last'));
    part('chart').dataset['window'] = window.kind;
    this.redraw();
  }

  #zoom(factor: number, at?: number): void {
    const { from, to } = this.#span;
    this.#go(zoomed(this.#span, factor, at ?? this.#cursor ?? (from + to) / 2, this.#extent));
  }

  #measure(act: () => void): void {
    act();
    part('measure').setAttribute('aria-pressed', String(this.#mark.on));
    this.redraw();
  }

  #markHere(): void {
    const { from, to } = this.#span;
    this.#measure(() => this.#mark.setOrClear(this.#cursor ?? (from + to) / 2));
  }

  #key(event: KeyboardEvent): void {
    const acts: Readonly<Record<string, () => void>> = {
      ArrowLeft: () => this.#step(-1, event.shiftKey),
      ArrowRight: () => this.#step(1, event.shiftKey),
      '+': () => this.#zoom(0.5),
      '=': () => this.#zoom(0.5),
      '-': () => this.#zoom(2),
      Home: () => this.#go({ kind: 'run' }),
      End: () => this.#go({ kind: 'run' }),
      m: () => this.#markHere(),
      M: () => this.#markHere(),
    };
    const act = acts[event.key];
    if (!act || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    this.#readByKeys = true;
    act();
  }

  #step(direction: number, pan: boolean): void {
    if (pan) return this.#go(panned(this.#span, 0.2 * direction, this.#extent));
    const { from, to } = this.#span;
    const next = (this.#cursor ?? (from + to) / 2) + (direction * (to - from)) / 200;
    this.#cursor = Math.min(Math.max(next, from), to);
    this.#chart.point(this.#cursor);
    this.#read();
  }

  /** Time and pressure under the reading line, and their distance from the mark. */
  #read(): void {
    const readout = part('readout');
    // Spoken only while keys move the line: a moving mouse would never let a screen reader finish.
    readout.setAttribute('aria-live', this.#readByKeys ? 'polite' : 'off');
    if (this.#mark.aiming) return say(readout, 'Click on the trace where measuring begins.');
    const now = this.#cursor === null ? null : this.#reading(this.#cursor);
    if (now === null) return say(readout, this.#mark.at === null ? 'Point at the trace to read it.' : 'Move the reading line to measure from the mark.');
    const mark = this.#mark.at === null ? null : this.#reading(this.#mark.at);
    const apart = mark === null ? '' : `, from the mark ${signedDuration(now.time - mark.time)} and ${this.#difference(now.pressure, mark.pressure)}`;
    say(readout, `${clockTime(now.time, this.#state?.setup.anchor ?? { time: 0, wall: 0 }, 2)}, ${now.words}${apart}`);
  }

  /** The highest sample under the line's pixel, so that a spike can be pointed at; the nearest one where there is none. */
  #reading(time: number): { readonly time: number; readonly pressure: number; readonly words: string } {
    const { buffer } = this;
    const half = this.#length / Math.max(this.#chart.surface.clientWidth, 1);
    let best = -1;
    for (let i = buffer.indexAt(time - half); i < buffer.end && (buffer.time[i] ?? 0) <= time + half; i++) {
      if (!Number.isNaN(buffer.pressure[i]) && (best < 0 || (buffer.pressure[i] ?? 0) > (buffer.pressure[best] ?? 0))) best = i;
    }
    if (best < 0) best = buffer.nearest(time, (this.#state?.setup.gap ?? 1) / 2);
    if (best < 0) return { time, pressure: Number.NaN, words: 'no reading' };
    const pressure = buffer.pressure[best] ?? Number.NaN;
    return { time: buffer.time[best] ?? time, pressure, words: this.#text(pressure) };
  }

  #difference(a: number, b: number): string {
    return Number.isNaN(a - b) ? 'no reading there' : `${a >= b ? '+' : ''}${this.#text(a - b)}`;
  }

  #text(bar: number): string {
    return pressureText(bar, this.#unit, this.#state?.setup.resolution ?? null);
  }
}

/** Holds of this session's runs, and the one going on up to its planned end. */
function holdsOf(state: LiveState | null): readonly Span[] {
  if (state === null) return [];
  const past = state.runs.filter(({ session }) => session === state.session).flatMap(({ holds }) => holds);
  const { holdSince, holdLeft, time } = state.view ?? {};
  return holdSince == null || holdLeft == null || time == null ? past : [...past, { from: holdSince, to: time + holdLeft }];
}
