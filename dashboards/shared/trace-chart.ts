import uPlot from 'uplot';
import type { FoundEvent } from '../../src/core/outcome.js';
import { fromBar, type PressureUnit } from '../../src/core/units.js';
import type { WallAnchor } from '../../src/server/bench-feed.js';
import type { PlanLines } from '../../src/sinks/live-protocol.js';
import { thin, thinnedPoints } from '../../src/sinks/live-thinning.js';
import { localFigure } from './figures.js';
import { nearRange, pressureTicks, runRange, type Range } from './pressure-scale.js';
import { readTheme, type Theme } from './theme.js';
import { clockTime, timeTicks } from './time-words.js';
import { drawEvents, drawGaps, drawHolds, drawLimits, gapWords, nameGaps, nameHolds, nameLimits, type Canvas } from './trace-layers.js';
import { leadLine } from './trace-line.js';
import type { TraceSource } from './trace-source.js';
import type { Span } from './trace-window.js';

/** An earlier run under the present one: times in s on the present trace's clock, pressures in bar, NaN for a break. */
export interface EarlierRun {
  readonly time: Float64Array;
  readonly pressure: Float64Array;
}

/** Everything a drawing depends on. */
export interface Picture {
  readonly span: Span;
  /** True while the whole run is shown: the pressure axis then starts at zero. */
  readonly whole: boolean;
  readonly plan: PlanLines | null;
  readonly gap: number;
  readonly anchor: WallAnchor;
  readonly unit: PressureUnit;
  readonly resolution: number | null;
  readonly holds: readonly Span[];
  readonly events: readonly FoundEvent[];
  readonly earlier: EarlierRun | null;
  /** s: where the measuring mark stands. */
  readonly mark: number | null;
}

/** What a page draws besides: on the bare paper, and over the line; and what it does once everything has its place. */
export interface ChartLayers {
  under?(c: Canvas): void;
  over?(c: Canvas): void;
  placed?(): void;
}

const widest = 8192;

/** The trace: thinned to the columns of the canvas at each drawing, with limits, holds, gaps and events. */
export class TraceChart {
  readonly #plot: uPlot;
  readonly #points = thinnedPoints(widest);
  #picture: Picture | null = null;
  #range: Range = [0, 10];
  #count = 0;
  #theme: Theme = readTheme();

  constructor(
    private readonly host: HTMLElement,
    private readonly buffer: TraceSource,
    onCursor: (time: number | null) => void,
    private readonly layers: ChartLayers = {},
  ) {
    this.#plot = new uPlot(this.#options(onCursor), [[], []], host);
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => {
      this.#theme = readTheme();
      this.#plot.redraw(false, true);
    });
    new ResizeObserver(() => this.#fit()).observe(host);
    this.#fit();
  }

  /** The element that pointers act on. */
  get surface(): HTMLElement {
    return this.#plot.over;
  }

  /** The moment under a horizontal position within `surface`, CSS px, s. */
  timeAt(left: number): number {
    return this.#plot.posToVal(left, 'x');
  }

  /** The pressure at a height within `surface`, CSS px, bar. */
  pressureAt(top: number): number {
    return this.#plot.posToVal(top, 'y');
  }

  /** Where a moment and a pressure stand within `surface`, CSS px. */
  placeOf(time: number, pressure: number): { readonly left: number; readonly top: number } {
    return { left: this.#plot.valToPos(time, 'x'), top: this.#plot.valToPos(pressure, 'y') };
  }

  /** Puts the reading line at a moment. */
  point(time: number): void {
    this.#plot.setCursor({ left: this.#plot.valToPos(time, 'x'), top: this.#plot.over.clientHeight / 2 });
  }

  draw(picture: Picture): void {
    this.#picture = picture;
    const { from, to } = picture.span;
    const { buffer } = this;
    const columns = Math.min(Math.max(Math.round(this.#plot.bbox.width), 1), widest);
    // One sample more on either side, so that the line runs out of the picture.
    const start = Math.max(buffer.indexAt(from) - 1, buffer.start);
    const end = Math.min(buffer.indexAt(to) + 1, buffer.end);
    this.#count = thin(buffer.time, buffer.pressure, start, end, { from, to, columns, gap: picture.gap }, this.#points);
    const [low, high] = this.#extremes(from, to);
    this.#range = picture.whole ? runRange(picture.plan, high) : nearRange(low, high, Math.max(20 * (picture.resolution ?? 0.1), 1));
    const time = this.#points.time.subarray(0, this.#count);
    const pressure = this.#points.pressure.subarray(0, this.#count);
    this.#plot.batch(() => {
      this.#plot.setData([time, pressure], false);
      this.#plot.setScale('x', { min: from, max: to });
      this.#plot.setScale('y', { min: this.#range[0], max: this.#range[1] });
    });
    this.#tell(low, high);
  }

  /** Lowest and highest point drawn within the picture, bar. */
  #extremes(from: number, to: number): [number, number] {
    let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (let i = 0; i < this.#count; i++) {
      const t = this.#points.time[i] ?? Number.NaN;
      const p = this.#points.pressure[i] ?? Number.NaN;
      if (!(t >= from && t <= to)) continue;
      if (p < low) low = p;
      if (p > high) high = p;
    }
    return [low, high];
  }

  /** What is drawn, as attributes of the chart for tests and for tools that read the page. */
  #tell(low: number, high: number): void {
    const { dataset } = this.host;
    const shown = this.buffer.gaps.filter(({ from, to }) => this.#picture && to >= this.#picture.span.from && from <= this.#picture.span.to);
    dataset['points'] = String(this.#count);
    dataset['lowestBar'] = Number.isFinite(low) ? low.toFixed(3) : '';
    dataset['highestBar'] = Number.isFinite(high) ? high.toFixed(3) : '';
    dataset['gaps'] = shown.map(gapWords).join('; ');
  }

  #fit(): void {
    const width = Math.floor(this.host.clientWidth);
    const height = Math.floor(this.host.clientHeight);
    if (width === 0 || height === 0) return;
    this.#plot.setSize({ width, height });
    if (this.#picture) this.draw(this.#picture);
  }

  #options(onCursor: (time: number | null) => void): uPlot.Options {
    const axis = { stroke: () => this.#theme.faint, grid: { stroke: () => this.#theme.grid, width: 1 }, ticks: { show: false }, font: '13px system-ui, sans-serif' };
    return {
      width: 600,
      height: 300,
      legend: { show: false },
      cursor: { drag: { x: false, y: false, setScale: false }, points: { show: false }, y: false },
      padding: [8, 32, 0, 0],
      scales: { x: { time: false }, y: { auto: false, range: (_u, min, max) => [min, max] } },
      axes: [
        { ...axis, size: 30, splits: (_u, _axis, min, max) => this.#timeTicks(min, max).at, values: (u, splits) => this.#timeLabels(u, splits) },
        { ...axis, size: 62, splits: () => this.#pressureTicks().at, values: (_u, splits) => this.#pressureLabels(splits) },
      ],
      series: [{}, { stroke: () => this.#theme.trace, width: 2, points: { show: false }, paths: (u) => this.#path(u) }],
      hooks: {
        drawClear: [(u) => this.#under(u)],
        draw: [(u) => this.#over(u)],
        setCursor: [(u) => onCursor(u.cursor.left === undefined || u.cursor.left < 0 ? null : u.posToVal(u.cursor.left, 'x'))],
      },
    };
  }

  #timeTicks(min: number, max: number): ReturnType<typeof timeTicks> {
    return timeTicks(min, max, Math.max(this.#plot.over.clientWidth / 110, 2), this.#picture?.anchor ?? { time: 0, wall: 0 });
  }

  #timeLabels(u: uPlot, splits: readonly number[]): string[] {
    const { min, max } = u.scales['x'] ?? {};
    const { decimals } = this.#timeTicks(min ?? 0, max ?? 1);
    return splits.map((t) => clockTime(t, this.#picture?.anchor ?? { time: 0, wall: 0 }, decimals));
  }

  #pressureTicks(): ReturnType<typeof pressureTicks> {
    return pressureTicks(this.#range, this.#picture?.unit ?? 'bar', Math.max(this.host.clientHeight / 55, 2));
  }

  #pressureLabels(splits: readonly number[]): string[] {
    const { decimals } = this.#pressureTicks();
    return splits.map((p) => fromBar(p, this.#picture?.unit ?? 'bar').toFixed(decimals).replace(/^-(?=0(\.0*)?$)/, '').replace('-', '−')).map(localFigure);
  }

  #path(u: uPlot): uPlot.Series.Paths {
    const stroke = new Path2D();
    this.#lead(u, stroke, this.#points.time, this.#points.pressure, this.#count);
    return { stroke, flags: 0 };
  }

  #lead(u: uPlot, pen: Path2D, time: Float64Array, pressure: Float64Array, count: number): void {
    const lines = leadLine(pen, time, pressure, count, (t) => u.valToPos(t, 'x', true), (p) => u.valToPos(p, 'y', true), uPlot.pxRatio);
    this.host.dataset[time === this.#points.time ? 'lines' : 'earlierLines'] = String(lines);
  }

  #canvas(u: uPlot): Canvas {
    const { left, top, width, height } = u.bbox;
    return {
      ctx: u.ctx, theme: this.#theme, ratio: uPlot.pxRatio, left, top, width, height,
      x: (t) => u.valToPos(t, 'x', true),
      y: (p) => u.valToPos(p, 'y', true),
    };
  }

  /** Under the line: holds, gaps, the earlier run, limits. */
  #under(u: uPlot): void {
    const picture = this.#picture;
    if (!picture) return;
    const c = this.#canvas(u);
    this.#clipped(c, () => {
      drawHolds(c, picture.holds);
      drawGaps(c, this.buffer.gaps);
      if (picture.plan) drawLimits(c, picture.plan, picture.holds);
      this.layers.under?.(c);
      if (!picture.earlier) {
        delete this.host.dataset['earlierLines'];
        return;
      }
      const path = new Path2D();
      this.#lead(u, path, picture.earlier.time, picture.earlier.pressure, picture.earlier.time.length);
      c.ctx.strokeStyle = this.#theme.earlier;
      c.ctx.lineWidth = 2 * c.ratio;
      c.ctx.stroke(path);
    });
  }

  /** Over the line: words, events and the measuring mark. */
  #over(u: uPlot): void {
    const picture = this.#picture;
    if (!picture) return;
    const c = this.#canvas(u);
    this.#clipped(c, () => {
      nameHolds(c, picture.holds);
      if (picture.plan) nameLimits(c, picture.plan);
      nameGaps(c, this.buffer.gaps);
      this.layers.over?.(c);
      drawEvents(c, picture.events, (time) => {
        const near = this.buffer.nearest(time, picture.gap);
        return near < 0 ? Number.NaN : (this.buffer.pressure[near] ?? Number.NaN);
      });
      if (picture.mark === null) return;
      c.ctx.strokeStyle = this.#theme.ink;
      c.ctx.lineWidth = 1.5 * c.ratio;
      c.ctx.beginPath();
      c.ctx.moveTo(c.x(picture.mark), c.top);
      c.ctx.lineTo(c.x(picture.mark), c.top + c.height);
      c.ctx.stroke();
    });
    this.layers.placed?.();
  }

  #clipped(c: Canvas, draw: () => void): void {
    c.ctx.save();
    c.ctx.beginPath();
    c.ctx.rect(c.left, c.top, c.width, c.height);
    c.ctx.clip();
    draw();
    c.ctx.restore();
  }
}
