import type { FoundEvent } from '../../src/core/outcome.js';
import type { PlanLines } from '../../src/sinks/live-protocol.js';
import { lookOf } from './event-words.js';
import { lanes, stacked } from './label-lanes.js';
import type { Theme } from './theme.js';
import { duration } from './time-words.js';
import type { Gap } from './trace-source.js';
import type { Span } from './trace-window.js';

/** What the layers draw with: canvas pixels, and the plot's frame in them. */
export interface Canvas {
  readonly ctx: CanvasRenderingContext2D;
  readonly theme: Theme;
  /** Canvas pixels in one CSS pixel. */
  readonly ratio: number;
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
  readonly x: (time: number) => number;
  readonly y: (pressure: number) => number;
}

const font = (c: Canvas, size: number, weight = 500): string => `${weight} ${Math.round(size * c.ratio)}px system-ui, sans-serif`;

/** A label with a ground of paper under it, so that it reads over the line. Returns its width. */
function label(c: Canvas, text: string, x: number, y: number, colour: string): void {
  const { ctx, ratio, theme } = c;
  const width = ctx.measureText(text).width;
  ctx.fillStyle = theme.paper;
  ctx.globalAlpha = 0.85;
  ctx.fillRect(x - 3 * ratio, y - 7 * ratio, width + 6 * ratio, 14 * ratio);
  ctx.globalAlpha = 1;
  ctx.fillStyle = colour;
  ctx.fillText(text, x, y);
}

/** The visible part of a span, canvas px; `null` when nothing of it is in the picture. */
function visible(c: Canvas, { from, to }: Span): readonly [left: number, right: number] | null {
  const [x0, x1] = [Math.max(c.x(from), c.left), Math.min(c.x(to), c.left + c.width)];
  return x1 > x0 ? [x0, x1] : null;
}

/** Shades each hold. */
export function drawHolds(c: Canvas, holds: readonly Span[]): void {
  for (const hold of holds) {
    const [x0, x1] = visible(c, hold) ?? [0, 0];
    c.ctx.fillStyle = c.theme.hold;
    c.ctx.fillRect(x0, c.top, x1 - x0, c.height);
  }
}

/** Writes `hold` at the foot of each, where it fits. */
export function nameHolds(c: Canvas, holds: readonly Span[]): void {
  const { ctx, theme, ratio } = c;
  ctx.font = font(c, 12);
  ctx.textAlign = 'left';
  ctx.textBaseline = 'middle';
  for (const hold of holds) {
    const [x0, x1] = visible(c, hold) ?? [0, 0];
    if (x1 - x0 < ctx.measureText('hold').width + 8 * ratio) continue;
    ctx.fillStyle = theme.faint;
    ctx.fillText('hold', x0 + 5 * ratio, c.top + c.height - 22 * ratio);
  }
}

/** Marks stretches without data; a line never crosses them. */
export function drawGaps(c: Canvas, gaps: readonly Gap[]): void {
  const { ctx, theme, ratio } = c;
  for (const gap of gaps) {
    const [x0, x1] = visible(c, gap) ?? [0, 0];
    if (x1 - x0 < 1) continue;
    ctx.save();
    ctx.beginPath();
    ctx.rect(x0, c.top, x1 - x0, c.height);
    ctx.clip();
    ctx.strokeStyle = theme.gap;
    ctx.lineWidth = ratio;
    ctx.beginPath();
    for (let x = x0 - c.height; x < x1; x += 9 * ratio) {
      ctx.moveTo(x, c.top + c.height);
      ctx.lineTo(x + c.height, c.top);
    }
    ctx.stroke();
    ctx.restore();
  }
}

/** Says of each gap how long it is. */
export function nameGaps(c: Canvas, gaps: readonly Gap[]): void {
  const { ctx, theme, ratio } = c;
  ctx.font = font(c, 13, 600);
  ctx.textAlign = 'left';
  ctx.textBaseline = 'middle';
  for (const gap of gaps) {
    const [x0, x1] = visible(c, gap) ?? [0, 0];
    const text = gapWords(gap);
    const width = ctx.measureText(text).width;
    if (x1 - x0 < 12 * ratio) continue;
    label(c, text, Math.min(Math.max((x0 + x1 - width) / 2, c.left + 4 * ratio), c.left + c.width - width - 4 * ratio), c.top + c.height * 0.7, theme.ink);
  }
}

/** `31 s without data` */
export const gapWords = ({ from, to }: Span): string => `${duration(to - from)} without data`;

interface Limit {
  readonly pressure: number;
  readonly word: string;
  readonly colour: 'limit' | 'target';
  readonly dash: readonly number[];
  /** Where its word stands. */
  readonly below: boolean;
}

const limitsOf = (plan: PlanLines): Limit[] => [
  ...(plan.ceiling === null ? [] : [{ pressure: plan.ceiling, word: 'ceiling', colour: 'limit', dash: [], below: false } as const]),
  { pressure: plan.testPressure, word: 'test pressure', colour: 'target', dash: [7, 4], below: false },
  ...(plan.minimum === null ? [] : [{ pressure: plan.minimum, word: 'minimum in the hold', colour: 'limit', dash: [2, 5], below: true } as const]),
];

/** Test pressure, minimum and ceiling as lines; the minimum is solid where it counts, over the holds. */
export function drawLimits(c: Canvas, plan: PlanLines, holds: readonly Span[]): void {
  const { ctx, theme, ratio } = c;
  const line = (pressure: number, x0: number, x1: number): void => {
    ctx.beginPath();
    ctx.moveTo(x0, c.y(pressure));
    ctx.lineTo(x1, c.y(pressure));
    ctx.stroke();
  };
  ctx.lineWidth = 1.5 * ratio;
  for (const { pressure, colour, dash } of limitsOf(plan)) {
    ctx.strokeStyle = theme[colour];
    ctx.setLineDash(dash.map((d) => d * ratio));
    line(pressure, c.left, c.left + c.width);
    ctx.setLineDash([]);
  }
  ctx.strokeStyle = theme.limit;
  for (const hold of holds) {
    const [x0, x1] = visible(c, hold) ?? [0, 0];
    if (plan.minimum !== null) line(plan.minimum, x0, x1);
  }
}

/** The words of the limits, at the left, where a run is still low. */
export function nameLimits(c: Canvas, plan: PlanLines): void {
  const { ctx, ratio, theme } = c;
  ctx.font = font(c, 12, 600);
  ctx.textAlign = 'left';
  ctx.textBaseline = 'middle';
  const limits = limitsOf(plan).filter(({ pressure }) => c.y(pressure) >= c.top && c.y(pressure) <= c.top + c.height);
  const heights = stacked(limits.map(({ pressure, below }) => c.y(pressure) + (below ? 11 : -10) * ratio), c.top + 7 * ratio, 14 * ratio);
  limits.forEach(({ word, colour }, i) => label(c, word, c.left + 7 * ratio, heights[i] as number, theme[colour]));
}

/** Strokes as ticks along the foot; every other event as a shape on the trace with its word above. */
export function drawEvents(c: Canvas, events: readonly FoundEvent[], pressureAt: (time: number) => number): void {
  const { ctx, theme, ratio } = c;
  const inside = events.filter(({ at, kind }) => kind !== 'gap' && c.x(at) >= c.left && c.x(at) <= c.left + c.width);
  ctx.strokeStyle = theme.faint;
  ctx.lineWidth = ratio;
  ctx.beginPath();
  for (const { at, kind } of inside) {
    if (kind !== 'stroke') continue;
    ctx.moveTo(c.x(at), c.top + c.height);
    ctx.lineTo(c.x(at), c.top + c.height - 9 * ratio);
  }
  ctx.stroke();

  const named = inside.filter(({ kind }) => kind !== 'stroke');
  ctx.font = font(c, 13, 600);
  const wanted = named.map(({ at, kind }) => ({ x: c.x(at), width: ctx.measureText(lookOf(kind).word).width + 18 * ratio }));
  const rows = lanes(wanted, 4, 4 * ratio);
  named.forEach((event, i) => {
    const look = lookOf(event.kind);
    const colour = look.grave ? theme.grave : theme.event;
    const x = c.x(event.at);
    const p = pressureAt(event.at);
    const y = Math.min(Math.max(Number.isNaN(p) ? c.top + c.height / 2 : c.y(p), c.top), c.top + c.height);
    const row = rows[i] ?? -1;
    const labelY = c.top + (12 + 19 * row) * ratio;
    if (row >= 0) {
      ctx.strokeStyle = colour;
      ctx.lineWidth = ratio;
      ctx.setLineDash([2 * ratio, 3 * ratio]);
      ctx.beginPath();
      ctx.moveTo(x, labelY);
      ctx.lineTo(x, y);
      ctx.stroke();
      ctx.setLineDash([]);
      ctx.textAlign = 'left';
      ctx.textBaseline = 'middle';
      // At the right edge the word goes to the left of its line.
      const width = ctx.measureText(look.word).width;
      label(c, look.word, x + width + 12 * ratio > c.left + c.width ? x - width - 8 * ratio : x + 8 * ratio, labelY, colour);
    }
    // Beside the extreme, not on it: the shape must not hide what it points at.
    const aside = look.shape === 'peak' ? -10 : look.shape === 'drop' ? 10 : look.shape === 'notch' ? ((event.height ?? 0) < 0 ? 10 : -10) : 0;
    drawShape(ctx, look.shape, x, y + aside * ratio, 6 * ratio, colour, theme.paper);
  });
}

function drawShape(ctx: CanvasRenderingContext2D, shape: ReturnType<typeof lookOf>['shape'], x: number, y: number, r: number, fill: string, edge: string): void {
  ctx.beginPath();
  switch (shape) {
    case 'peak':
      ctx.moveTo(x, y - r);
      ctx.lineTo(x + r, y + r);
      ctx.lineTo(x - r, y + r);
      break;
    case 'drop':
      ctx.moveTo(x, y + r);
      ctx.lineTo(x + r, y - r);
      ctx.lineTo(x - r, y - r);
      break;
    case 'notch':
      ctx.moveTo(x, y - r);
      ctx.lineTo(x + r, y);
      ctx.lineTo(x, y + r);
      ctx.lineTo(x - r, y);
      break;
    case 'lid':
      ctx.arc(x, y, r, Math.PI, 0);
      break;
    case 'square':
    case 'tick':
      ctx.rect(x - r, y - r, 2 * r, 2 * r);
      break;
  }
  ctx.closePath();
  ctx.fillStyle = fill;
  ctx.fill();
  ctx.strokeStyle = edge;
  ctx.lineWidth = r / 4;
  ctx.stroke();
}
