import { curveAt, liftedBy, type HoldDetail } from '../../src/core/hold-detail.js';
import type { Canvas } from '../shared/trace-layers.js';
import { handlesOf, slopeSpan, spikeBox, type PlotScene } from './plot-handles.js';

/** Settling as a hatched stretch before the hold, from the last stroke on. */
export function drawSettling(c: Canvas, holds: readonly HoldDetail[]): void {
  const { ctx, theme, ratio } = c;
  for (const { lastPumping, settled, averages } of holds) {
    const from = lastPumping ?? averages.time[0] ?? null;
    if (from === null || settled === null) continue;
    const [x0, x1] = [Math.max(c.x(from), c.left), Math.min(c.x(settled), c.left + c.width)];
    if (x1 <= x0) continue;
    ctx.fillStyle = theme.hold;
    ctx.globalAlpha = 0.5;
    ctx.fillRect(x0, c.top, x1 - x0, c.height);
    ctx.globalAlpha = 1;
    ctx.fillStyle = theme.faint;
    ctx.font = `500 ${Math.round(12 * ratio)}px system-ui, sans-serif`;
    ctx.textAlign = 'left';
    ctx.textBaseline = 'middle';
    if (x1 - x0 > ctx.measureText('settling').width + 8 * ratio) ctx.fillText('settling', x0 + 5 * ratio, c.top + c.height - 22 * ratio);
  }
}

/** The curve of each fit, over the line it follows. */
export function drawCurves(c: Canvas, holds: readonly HoldDetail[]): void {
  const { ctx, theme, ratio } = c;
  ctx.strokeStyle = theme.limit;
  ctx.lineWidth = 1.5 * ratio;
  for (const hold of holds) {
    const { curve } = hold;
    if (curve === null) continue;
    const [x0, x1] = [Math.max(c.x(curve.from), c.left), Math.min(c.x(curve.to), c.left + c.width)];
    if (x1 <= x0) continue;
    ctx.beginPath();
    const perPixel = (curve.to - curve.from) / (c.x(curve.to) - c.x(curve.from));
    for (let x = x0; x <= x1; x += 2 * ratio) {
      const t = curve.from + (x - c.x(curve.from)) * perPixel;
      const y = c.y(curveAt(curve, t) + liftedBy(hold, t));
      if (x === x0) ctx.moveTo(x, y);
      else ctx.lineTo(x, y);
    }
    ctx.stroke();
  }
}

/** Lines and box of what can be taken hold of. */
export function drawGuides(c: Canvas, scene: PlotScene): void {
  const { ctx, theme, ratio } = c;
  ctx.strokeStyle = theme.event;
  ctx.lineWidth = ratio;
  ctx.setLineDash([4 * ratio, 4 * ratio]);
  for (const { key, along, time, pressure, of } of handlesOf(scene)) {
    if (of !== 'line') continue;
    ctx.beginPath();
    if (along === 'time') {
      ctx.moveTo(c.x(time), c.top);
      ctx.lineTo(c.x(time), c.top + c.height);
    } else if (key === 'settleSlope') {
      const start = scene.cycle?.holdStartPressure ?? pressure;
      ctx.moveTo(c.x(time - slopeSpan), c.y(start));
      ctx.lineTo(c.x(time), c.y(pressure));
    } else {
      const [from, to] = key === 'topUpHeight' ? [c.x(time - slopeSpan / 2), c.x(time + slopeSpan)] : [c.left, c.left + c.width];
      ctx.moveTo(from, c.y(pressure));
      ctx.lineTo(to, c.y(pressure));
    }
    ctx.stroke();
  }
  ctx.setLineDash([]);
  const box = spikeBox(scene);
  if (box === null) return;
  const [x, y] = [c.x(box.from), c.y(box.high)];
  ctx.globalAlpha = 0.16;
  ctx.fillStyle = theme.event;
  ctx.fillRect(x, y, c.x(box.to) - x, c.y(box.low) - y);
  ctx.globalAlpha = 1;
  ctx.lineWidth = 1.5 * ratio;
  ctx.strokeRect(x, y, c.x(box.to) - x, c.y(box.low) - y);
}
