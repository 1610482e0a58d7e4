import uPlot from 'uplot';
import type { HoldDetail } from '../../src/core/hold-detail.js';
import type { FoundEvent } from '../../src/core/outcome.js';
import { fromBar, type PressureUnit } from '../../src/core/units.js';
import { thin, thinnedPoints } from '../../src/sinks/live-thinning.js';
import { part, say } from '../shared/page-parts.js';
import { readTheme } from '../shared/theme.js';
import { leadLine } from '../shared/trace-line.js';
import { holdResiduals, onGrid, type HoldResiduals } from './hold-residuals.js';
import type { LoadedRun } from './reading-messages.js';
import { spectrumOf, type Spectrum } from './spectrum.js';

/** Columns that residuals are thinned to: each by its lowest and highest. */
const columns = 900;

/** Places from the beginning on, five or so, in steps of 1, 2 or 5. */
function evenPlaces(from: number, to: number): number[] {
  const rough = Math.max((to - from) / 5, 1e-6);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = ([1, 2, 5, 10].find((s) => s * power >= rough) ?? 10) * power;
  return Array.from({ length: Math.floor((to - from) / step) + 1 }, (_, i) => from + i * step);
}

/** What the fit of a hold leaves over: against time, and as a spectrum. */
export class NoisePanel {
  private residuals: HoldResiduals | null = null;
  private spectrum: Spectrum | null = null;
  private unit: PressureUnit = 'bar';
  private given: { readonly run: LoadedRun; readonly hold: HoldDetail; readonly events: readonly FoundEvent[] } | null = null;
  private readonly points = thinnedPoints(columns);
  private plots: uPlot[] = [];

  constructor() {
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => this.redraw());
    part('noise').addEventListener('toggle', () => this.compute());
    new ResizeObserver(() => this.redraw()).observe(part('residuals'));
  }

  draw(run: LoadedRun | null, hold: HoldDetail | null, events: readonly FoundEvent[], unit: PressureUnit): void {
    this.unit = unit;
    this.given = run === null || hold === null ? null : { run, hold, events };
    this.compute();
  }

  /** Nothing is computed while nobody looks: a long trace takes its time. */
  private compute(): void {
    const { given } = this;
    const looking = (part('noise') as HTMLDetailsElement).open;
    this.residuals = given === null || !looking ? null : holdResiduals({ ...given.run.trace, flags: given.run.trace.flags ?? new Uint8Array(given.run.trace.time.length) }, given.hold, given.events);
    this.spectrum = this.residuals === null ? null : spectrumOf(onGrid(this.residuals), this.residuals.interval);
    this.tell();
    this.redraw();
  }

  private tell(): void {
    const { residuals, spectrum, unit } = this;
    const small = (bar: number): string => `${Number(fromBar(bar, unit).toPrecision(3))} ${unit}`;
    const left = residuals === null
      ? 'No hold was fitted, so nothing is left over.'
      : `Readings less the curve of the fit: ${small(residuals.rms)} root mean square over ${residuals.time.length} readings. Dots: the averages that were fitted.`;
    const noise = spectrum === null
      ? 'No spectrum: there are too few readings.'
      : `Noise by frequency in ${unit} per root hertz, mean of ${spectrum.stretches} ${spectrum.stretches === 1 ? 'stretch' : 'stretches'}. ${spectrum.line === null ? 'No single frequency stands out.' : `A line stands out at ${Number(spectrum.line.frequency.toPrecision(3))} Hz, ${small(spectrum.line.amplitude)} high.`}`;
    say(part('residual-words'), left);
    say(part('spectrum-words'), noise);
    part('residuals').setAttribute('aria-label', left);
    part('spectrum').setAttribute('aria-label', noise);
  }

  private redraw(): void {
    for (const plot of this.plots) plot.destroy();
    this.plots = [];
    if (!(part('noise') as HTMLDetailsElement).open) return;
    if (this.residuals !== null) this.drawResiduals(this.residuals);
    if (this.spectrum !== null) this.drawSpectrum(this.spectrum);
  }

  private options(host: HTMLElement): Pick<uPlot.Options, 'width' | 'height' | 'legend' | 'cursor' | 'padding'> & { axis: uPlot.Axis } {
    const theme = readTheme();
    return {
      width: Math.max(host.clientWidth, 120), height: Math.max(host.clientHeight, 90), legend: { show: false }, cursor: { show: false }, padding: [6, 24, 0, 0],
      axis: { stroke: theme.faint, grid: { stroke: theme.grid, width: 1 }, ticks: { show: false }, font: '12px system-ui, sans-serif' },
    };
  }

  private drawResiduals({ time, off, interval, averages }: HoldResiduals): void {
    const host = part('residuals');
    const { axis, ...options } = this.options(host);
    const theme = readTheme();
    const [from, to] = [time[0] as number, time[time.length - 1] as number];
    const count = thin(time, off, 0, time.length, { from, to, columns, gap: 5 * interval }, this.points);
    let most = 1e-9;
    for (const value of off) most = Math.max(most, Math.abs(value));
    const { points, unit } = this;
    this.plots.push(new uPlot({
      ...options,
      scales: { x: { time: false, range: [from, to] }, y: { range: [-1.1 * most, 1.1 * most] } },
      axes: [
        { ...axis, size: 24, splits: () => evenPlaces(from, to), values: (_u, splits) => splits.map((t) => `${Number((t - from).toPrecision(6))} s`) },
        { ...axis, size: 56, values: (_u, splits) => splits.map((p) => String(Number(fromBar(p, unit).toPrecision(2)))) },
      ],
      series: [{}, {
        stroke: theme.trace, width: 1, points: { show: false },
        paths: (u) => {
          const stroke = new Path2D();
          leadLine(stroke, points.time, points.pressure, count, (t) => u.valToPos(t, 'x', true), (p) => u.valToPos(p, 'y', true), uPlot.pxRatio);
          return { stroke, flags: 0 };
        },
      }],
      hooks: {
        draw: [(u) => {
          u.ctx.fillStyle = theme.limit;
          averages.time.forEach((t, i) => u.ctx.fillRect(u.valToPos(t, 'x', true) - 1.5 * uPlot.pxRatio, u.valToPos(averages.off[i] as number, 'y', true) - 1.5 * uPlot.pxRatio, 3 * uPlot.pxRatio, 3 * uPlot.pxRatio));
        }],
      },
    }, [points.time.subarray(0, count), points.pressure.subarray(0, count)], host));
  }

  private drawSpectrum({ frequency, density }: Spectrum): void {
    const host = part('spectrum');
    const { axis, ...options } = this.options(host);
    // Amplitude per root hertz, on a scale of decades; the constant is left out, a logarithm has no place for it.
    const height = Float64Array.from(density.subarray(1), (d) => Math.log10(Math.max(Math.sqrt(d), 1e-12)));
    const f = frequency.subarray(1);
    const last = f[f.length - 1] as number;
    const sorted = height.slice().sort();
    const [low, high] = [sorted[Math.floor(sorted.length * 0.01)] as number, sorted[sorted.length - 1] as number];
    const { unit } = this;
    this.plots.push(new uPlot({
      ...options,
      scales: { x: { time: false, range: [0, last] }, y: { range: [Math.floor(low * 2) / 2, Math.ceil(high * 2) / 2 + 0.1] } },
      axes: [
        { ...axis, size: 24, values: (_u, splits) => splits.map((v) => `${v} Hz`) },
        { ...axis, size: 56, incrs: [0.5, 1, 2], values: (_u, splits) => splits.map((v) => (Number.isInteger(v) ? `${Number((fromBar(10 ** v, unit)).toPrecision(2))}` : '')) },
      ],
      series: [{}, { stroke: readTheme().trace, width: 1, points: { show: false } }],
    }, [f, height], host));
  }
}
