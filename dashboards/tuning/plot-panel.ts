import type { FoundEvent } from '../../src/core/outcome.js';
import type { Plan } from '../../src/core/plan.js';
import type { RunInDetail } from '../../src/core/reading-in-detail.js';
import { readingLimits, type Thresholds } from '../../src/core/thresholds.js';
import type { PressureUnit } from '../../src/core/units.js';
import { planLines } from '../../src/sinks/live-setup.js';
import { part, say } from '../shared/page-parts.js';
import { TraceChart } from '../shared/trace-chart.js';
import { followPointers } from '../shared/trace-pointers.js';
import type { Span } from '../shared/trace-window.js';
import { HandleLayer, type HandleActs } from './handle-layer.js';
import { LoadedTrace } from './loaded-trace.js';
import { handlesOf, type PlotScene } from './plot-handles.js';
import { drawCurves, drawGuides, drawSettling } from './reading-layers.js';
import { zeroOf, type LoadedRun } from './reading-messages.js';
import { eventWords, sinceStart } from './run-words.js';

/** What the plot shows. */
export interface PlotState {
  readonly run: LoadedRun;
  /** By which it is read: its own, or one on trial. */
  readonly plan: Plan | null;
  /** Whether that is one on trial: its limits can be moved then. */
  readonly onTrial: boolean;
  /** The reading with the thresholds as they are tried; empty until it is there. */
  readonly found: readonly RunInDetail[];
  readonly thresholds: Thresholds;
  readonly unit: PressureUnit;
}

const shortest = 0.05;

/** The trace of one run with what was read of it, and the thresholds that can be taken hold of. */
export class PlotPanel {
  private readonly trace = new LoadedTrace();
  private readonly chart: TraceChart;
  private readonly handles: HandleLayer;
  private state: PlotState | null = null;
  private span: Span | null = null;
  private chosen: number | null = null;

  constructor(acts: HandleActs, private readonly eventChosen: (event: FoundEvent | null) => void) {
    const host = part('plot');
    this.chart = new TraceChart(host, this.trace, () => undefined, {
      under: (c) => drawSettling(c, this.holds),
      over: (c) => {
        drawCurves(c, this.holds);
        if (this.state) drawGuides(c, this.scene(this.state));
      },
      placed: () => this.handles.place(this.state ? handlesOf(this.scene(this.state)) : []),
    });
    this.handles = new HandleLayer(this.chart, acts);
    followPointers(this.chart.surface, {
      drag: (from, to) => this.pan(this.chart.timeAt(from) - this.chart.timeAt(to)),
      zoom: (factor, left) => this.zoom(factor, this.chart.timeAt(left)),
      home: () => this.go(null),
      touched: () => undefined,
    });
    host.addEventListener('keydown', (event) => this.key(event));
    const on = (id: string, act: () => void): void => part(id).addEventListener('click', act);
    on('show-all', () => this.go(null));
    on('show-settling', () => this.showSettling());
    on('nearer', () => this.zoom(0.5));
    on('farther', () => this.zoom(2));
    on('earlier-in-time', () => this.pan(-0.4 * this.length));
    on('later-in-time', () => this.pan(0.4 * this.length));
    on('event-back', () => this.choose(-1));
    on('event-on', () => this.choose(1));
  }

  /** Shows another run from end to end, or the same one read anew. */
  show(state: PlotState): void {
    const other = this.state?.run !== state.run;
    this.state = state;
    if (other) {
      this.trace.take(state.run.trace, readingLimits(state.thresholds, this.testPressure).gap);
      this.span = null;
      this.chosen = null;
    }
    this.draw();
  }

  /** Excursions and other events in order, but for the strokes. */
  get events(): readonly FoundEvent[] {
    return (this.state?.found ?? []).flatMap(({ outcome }) => outcome.events).filter(({ kind }) => kind !== 'stroke').sort((a, b) => a.at - b.at);
  }

  get event(): FoundEvent | null {
    if (this.chosen === null) return null;
    const at = this.chosen;
    return this.events.find((event) => Math.abs(event.at - at) < 1e-6) ?? null;
  }

  get testPressure(): number {
    // Without a plan heights are judged as the reader judges them: against half of the range.
    const { plan = null, run } = this.state ?? {};
    const instrument = run?.instrument ?? null;
    return plan?.testPressure ?? (instrument?.range?.upper ?? 200) / 2;
  }

  private get holds() {
    return (this.state?.found ?? []).flatMap(({ holds }) => holds);
  }
  private get whole(): Span {
    const { from, to } = this.trace.extent;
    if (Number.isNaN(from)) return { from: 0, to: 60 };
    // What was read before and after it, for the state of the bench, is no part of the run.
    const recorded = this.state?.run.recorded ?? null;
    if (recorded === null) return { from, to: Math.max(to, from + 1) };
    const around = Math.min(3, 0.05 * (recorded.to - recorded.from));
    return { from: Math.max(from, recorded.from - around), to: Math.max(Math.min(to, recorded.to + around), recorded.from + 1) };
  }
  private get zero(): number {
    return this.state === null ? 0 : zeroOf(this.state.run);
  }
  private get shown(): Span {
    return this.span ?? this.whole;
  }
  private get length(): number {
    return this.shown.to - this.shown.from;
  }

  private scene({ found, thresholds, plan, onTrial }: PlotState): PlotScene {
    const cycles = found.flatMap(({ outcome }) => outcome.cycles);
    const middle = (this.shown.from + this.shown.to) / 2;
    // Of several cycles, the one in the middle of the picture.
    let at = 0;
    cycles.forEach((cycle, i) => {
      if ((cycle.rising ?? Infinity) <= middle) at = i;
    });
    return { thresholds, testPressure: this.testPressure, cycle: cycles[at] ?? null, hold: this.holds[at] ?? null, event: this.boxed, plan: onTrial ? plan : null };
  }

  /** The excursion whose box is drawn: the one that is looked at, where a box says something about it. */
  private get boxed(): FoundEvent | null {
    const { event } = this;
    if (event === null) return this.tallest();
    return event.kind === 'spike' || event.kind === 'glitch' ? event : null;
  }

  /** While none is looked at: the highest. */
  private tallest(): FoundEvent | null {
    const rises = (this.state?.found ?? []).flatMap(({ outcome }) => outcome.events).filter(({ kind, pressure }) => pressure !== undefined && (kind === 'spike' || kind === 'stroke'));
    const spikes = rises.filter(({ kind }) => kind === 'spike');
    return (spikes.length > 0 ? spikes : rises).reduce<FoundEvent | null>((best, event) => ((event.height ?? 0) > (best?.height ?? 0) ? event : best), null);
  }

  private draw(): void {
    const { state } = this;
    if (state === null) return;
    const { run, plan, found, thresholds, unit } = state;
    const limits = readingLimits(thresholds, this.testPressure);
    this.chart.draw({
      span: this.shown,
      whole: this.span === null,
      plan: plan === null ? null : planLines(plan),
      gap: limits.gap,
      anchor: { time: this.zero, wall: new Date(2000, 0, 1).getTime() },
      unit,
      resolution: run.instrument?.resolution ?? null,
      holds: found.flatMap(({ outcome }) => outcome.cycles).flatMap(({ settled, holdEnd }) => (settled === null || holdEnd === null ? [] : [{ from: settled, to: holdEnd }])),
      events: found.flatMap(({ outcome }) => outcome.events),
      earlier: null,
      mark: this.event?.at ?? null,
    });
    part('show-all').setAttribute('aria-pressed', String(this.span === null));
    const { events, event } = this;
    for (const id of ['event-back', 'event-on']) part(id).toggleAttribute('disabled', events.length === 0);
    say(
      part('event-words'),
      event !== null
        ? `${events.indexOf(event) + 1} of ${events.length}: ${eventWords(event, unit, run.instrument?.resolution ?? null)}, at ${sinceStart(event.at, this.zero)}`
        : events.length === 0 ? 'Nothing found but strokes' : `${events.length} found`,
    );
  }

  private go(span: Span | null): void {
    const { from, to } = this.whole;
    const all = (to - from) * 1.1;
    part('show-settling').setAttribute('aria-pressed', 'false');
    if (span === null || span.to - span.from >= all) this.span = null;
    else {
      const length = Math.max(span.to - span.from, shortest);
      const begin = Math.min(Math.max(span.from, from - 0.5 * length), to - 0.5 * length);
      this.span = { from: begin, to: begin + length };
    }
    this.draw();
  }

  private pan(by: number): void {
    const { from, to } = this.shown;
    this.go({ from: from + by, to: to + by });
  }

  private zoom(factor: number, at = this.event?.at ?? (this.shown.from + this.shown.to) / 2): void {
    const { from } = this.shown;
    const length = Math.max(this.length * factor, shortest);
    const begin = at - ((at - from) / this.length) * length;
    this.go({ from: begin, to: begin + length });
  }

  private showSettling(): void {
    const [hold] = this.holds;
    if (hold === undefined) return;
    const from = hold.lastPumping ?? hold.averages.time[0] ?? this.whole.from;
    const to = hold.holdEnd ?? hold.averages.time.at(-1) ?? this.whole.to;
    this.go({ from: from - 0.03 * (to - from), to });
    part('show-settling').setAttribute('aria-pressed', 'true');
  }

  private choose(direction: number): void {
    const { events } = this;
    if (events.length === 0) return;
    const now = this.chosen;
    const next = now === null
      ? events[direction > 0 ? 0 : events.length - 1]
      : direction > 0 ? (events.find(({ at }) => at > now + 1e-6) ?? events[0]) : ([...events].reverse().find(({ at }) => at < now - 1e-6) ?? events[events.length - 1]);
    if (next === undefined || !this.state) return;
    this.chosen = next.at;
    const around = Math.max(2, 4 * (next.width ?? 0), 4 * readingLimits(this.state.thresholds, this.testPressure).spikeWidth);
    this.go({ from: next.at - around / 2, to: next.at + around / 2 });
    this.eventChosen(next);
  }

  private key(event: KeyboardEvent): void {
    const acts: Readonly<Record<string, () => void>> = {
      ArrowLeft: () => this.pan(-0.2 * this.length),
      ArrowRight: () => this.pan(0.2 * this.length),
      '+': () => this.zoom(0.5),
      '=': () => this.zoom(0.5),
      '-': () => this.zoom(2),
      Home: () => this.go(null),
    };
    const act = acts[event.key];
    if (act === undefined || event.target !== part('plot') || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    act();
  }
}
