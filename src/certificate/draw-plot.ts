import type { EventKind } from '../core/outcome.js';
import type { PlotContent } from './certificate-content.js';
import { inks, type Sheet } from './sheet.js';

/** Events that get a word; strokes are ticks along the foot. */
const words: Readonly<Record<EventKind, string>> = {
  stroke: '', spike: 'spike', glitch: 'glitch', overshoot: 'overshoot', 'top-up': 'top-up', breach: 'below minimum', burst: 'burst', gap: 'no data',
  saturation: 'beyond range', flatline: 'not moving', 'zero-shift': 'zero off', 'lid-open': 'lid open',
};
const steps = [1, 2, 5];

/** A round step that gives about `count` intervals over `span`. */
function roundStep(span: number, count: number): number {
  const rough = span / count;
  const ten = 10 ** Math.floor(Math.log10(rough));
  return (steps.find((step) => step * ten >= rough) ?? 10) * ten;
}

/** The trace of a run as lines, with limits, hold and events named beside them. Takes `height` points below the pen. */
export function drawPlot(sheet: Sheet, plot: PlotContent, height: number): void {
  sheet.need(height);
  const { pdf } = sheet;
  const [left, top, width, tall] = [sheet.left + 34, sheet.y + 12, sheet.inner - 34, height - 38];
  const highest = Math.max(1, ...plot.limits.map(({ pressure }) => pressure), ...plot.pressure.filter((p) => !Number.isNaN(p)));
  const lowest = Math.min(0, ...plot.pressure.filter((p) => !Number.isNaN(p)));
  // Room for the words of events above everything that is drawn.
  const ceiling = (plot.events.some(({ kind }) => kind !== 'stroke') ? 1.28 : 1.07) * highest;
  const x = (time: number) => left + (Math.min(Math.max(time, 0), plot.length) / plot.length) * width;
  const y = (pressure: number) => top + tall - ((pressure - lowest) / (ceiling - lowest)) * tall;
  const small = { size: 6.4, ink: 'faint' } as const;

  pdf.rect(left, top, width, tall).lineWidth(0.6).strokeColor(inks.rule).stroke();
  for (const { from, to } of plot.holds) {
    pdf.rect(x(from), top, x(to) - x(from), tall).fill(inks.hold);
    if (x(to) - x(from) > 18) sheet.at('hold', x(from) + 2, top + tall - 10, 40, small);
  }
  grid(sheet, plot, { left, top, width, tall, x, y, lowest, ceiling });
  for (const { pressure, dash } of plot.limits) {
    pdf.moveTo(left, y(pressure)).lineTo(left + width, y(pressure)).lineWidth(0.8).strokeColor(inks.limit);
    if (dash.length > 0) pdf.dash(dash[0] ?? 3, { space: dash[1] ?? 3 });
    pdf.stroke().undash();
  }
  nameLimits(sheet, plot, left, y);

  pdf.lineWidth(0.7).lineJoin('round').strokeColor(inks.trace);
  let drawing = false;
  plot.time.forEach((time, i) => {
    const pressure = plot.pressure[i] ?? NaN;
    if (Number.isNaN(pressure)) drawing = false;
    else if (drawing) pdf.lineTo(x(time), y(pressure));
    else {
      pdf.moveTo(x(time), y(pressure));
      drawing = true;
    }
  });
  if (plot.pressure.some((p) => !Number.isNaN(p))) pdf.stroke();
  events(sheet, plot, { left, top, width, tall, x, y });
  sheet.y += height;
}

interface Frame {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly tall: number;
  readonly x: (time: number) => number;
  readonly y: (pressure: number) => number;
}

function grid(sheet: Sheet, plot: PlotContent, f: Frame & { readonly lowest: number; readonly ceiling: number }): void {
  const { pdf } = sheet;
  const small = { size: 6.4, ink: 'faint' } as const;
  const up = roundStep(f.ceiling - f.lowest, 6);
  pdf.lineWidth(0.25).strokeColor(inks.rule);
  for (let p = Math.ceil(f.lowest / up) * up; p <= f.ceiling; p += up) {
    pdf.moveTo(f.left, f.y(p)).lineTo(f.left + f.width, f.y(p)).stroke();
    sheet.at(String(Number(p.toPrecision(6))), f.left - 34, f.y(p) - 4, 30, { ...small, align: 'right' });
  }
  sheet.at('bar', f.left - 34, f.top - 11, 30, { ...small, align: 'right' });
  const along = roundStep(plot.length, 10);
  for (let t = 0; t <= plot.length + 1e-9; t += along) {
    pdf.moveTo(f.x(t), f.top + f.tall).lineTo(f.x(t), f.top + f.tall + 3).lineWidth(0.4).strokeColor(inks.faint).stroke();
    sheet.at(String(Number(t.toPrecision(6))), f.x(t) - 20, f.top + f.tall + 4, 40, { ...small, align: 'center' });
  }
  sheet.at('s from the start of the run', f.left + f.width - 140, f.top + f.tall + 13, 140, { ...small, align: 'right' });
}

/** The words of the limits at the left, where a run is still low; one that would touch another goes to the other side of its line. */
function nameLimits(sheet: Sheet, plot: PlotContent, left: number, y: (pressure: number) => number): void {
  const taken: number[] = [];
  for (const { pressure, word } of [...plot.limits].sort((a, b) => b.pressure - a.pressure)) {
    const above = y(pressure) - 9;
    const place = taken.some((other) => Math.abs(other - above) < 8) ? y(pressure) + 1.5 : above;
    taken.push(place);
    const text = `${word} ${pressure} bar`;
    sheet.at(text, left + 4, place, sheet.widthOf(text, { size: 6.4 }) + 2, { size: 6.4, ink: 'limit' });
  }
}

function events(sheet: Sheet, plot: PlotContent, f: Frame): void {
  const { pdf } = sheet;
  const inside = plot.events.filter(({ at }) => at >= 0 && at <= plot.length);
  pdf.lineWidth(0.4).strokeColor(inks.faint);
  for (const { at, kind } of inside) if (kind === 'stroke') pdf.moveTo(f.x(at), f.top + f.tall).lineTo(f.x(at), f.top + f.tall - 4).stroke();
  const named = inside.filter(({ kind }) => kind !== 'stroke').slice(0, 60);
  let end = -Infinity;
  let lane = 0;
  for (const { at, kind } of named) {
    const [px, width] = [f.x(at), sheet.widthOf(words[kind], { size: 6.4 })];
    const py = f.y(pressureNear(plot, at));
    const toLeft = px + width + 8 > f.left + f.width;
    lane = px < end ? (lane + 1) % 4 : 0;
    end = px + width + 8;
    const ly = f.top + 2 + 8 * lane;
    pdf.moveTo(px, ly + 8).lineTo(px, py - 6).lineWidth(0.4).dash(1, { space: 1.5 }).strokeColor(inks.ink).stroke().undash();
    mark(pdf, kind, px, py);
    sheet.at(words[kind], toLeft ? px - width - 4 : px + 2, ly, width + 2, { size: 6.4, face: 'plain' });
  }
}

/** The highest reading beside a moment, so that a mark stands at the tip of its spike. */
function pressureNear(plot: PlotContent, at: number): number {
  const near = plot.length / 450;
  let found = NaN;
  plot.time.forEach((time, i) => {
    const p = plot.pressure[i] ?? NaN;
    if (Math.abs(time - at) <= near && !Number.isNaN(p) && !(found >= p)) found = p;
  });
  return Number.isNaN(found) ? 0 : found;
}

/** Up for what rose, down for what fell, a square for what was not seen. */
function mark(pdf: PDFKit.PDFDocument, kind: EventKind, x: number, y: number): void {
  const r = 2.6;
  if (kind === 'spike' || kind === 'overshoot' || kind === 'top-up') pdf.polygon([x, y - 2 * r - 1], [x + r, y - 1], [x - r, y - 1]);
  else if (kind === 'burst' || kind === 'breach') pdf.polygon([x, y + 2 * r + 1], [x + r, y + 1], [x - r, y + 1]);
  else if (kind === 'glitch') pdf.polygon([x, y - r], [x + r, y], [x, y + r], [x - r, y]);
  else pdf.rect(x - r, y - r, 2 * r, 2 * r);
  pdf.fill(inks.ink);
}
