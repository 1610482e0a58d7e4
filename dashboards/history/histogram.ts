import { fromBar, type PressureUnit } from '../../src/core/units.js';
import type { Statistics } from '../../src/server/history-answers.js';
import { localFigure } from '../shared/figures.js';
import { make } from '../shared/page-parts.js';
import { valueText } from './run-figures.js';
import { draw, fitted, ticks, type Drawn } from './svg.js';

const height = 200;
const frame = { left: 40, right: 16, top: 14, bottom: 40 } as const;

/** How many first tests had which figure. */
export function histogram(found: Statistics, unit: PressureUnit): Drawn {
  return fitted(make('div', 'control'), (width) => drawing(found, unit, width));
}

function drawing(found: Statistics, unit: PressureUnit, width: number): SVGElement {
  const columns = found.distribution?.columns ?? [];
  const [from, to] = [columns[0]?.from ?? 0, columns.at(-1)?.to ?? 1];
  const most = Math.max(...columns.map(({ count }) => count), 1);
  const x = (value: number): number => frame.left + ((width - frame.left - frame.right) * (value - from)) / (to - from);
  const y = (count: number): number => frame.top + (height - frame.top - frame.bottom) * (1 - count / most);
  const sentence = `${found.distribution?.count ?? 0} first tests, from ${valueText(found.distribution?.lowest ?? 0, found, unit)} to ${valueText(found.distribution?.highest ?? 0, found, unit)}, half of them below ${valueText(found.distribution?.median ?? 0, found, unit)}.`;
  const svg = draw('svg', { class: 'plot', viewBox: `0 0 ${width} ${height}`, width, height, role: 'img', 'aria-label': sentence });
  for (const count of ticks(0, most, 4).at.filter(Number.isInteger)) {
    svg.append(draw('line', { class: 'grid', x1: frame.left, x2: width - frame.right, y1: y(count), y2: y(count) }), draw('text', { class: 'tick', x: frame.left - 6, y: y(count) + 4, 'text-anchor': 'end' }, String(count)));
  }
  for (const column of columns) {
    const about = `${valueText(column.from, found, unit)} to ${valueText(column.to, found, unit)}: ${column.count}`;
    svg.append(draw('rect', { class: 'column', x: x(column.from) + 1, width: Math.max(x(column.to) - x(column.from) - 2, 1), y: y(column.count), height: y(0) - y(column.count) }, draw('title', {}, about)));
  }
  const factor = fromBar(1, unit);
  const { at, decimals } = ticks(from * factor, to * factor, width / 90);
  svg.append(...at.map((value) => draw('text', { class: 'tick', x: x(value / factor), y: height - 22, 'text-anchor': 'middle' }, localFigure(value.toFixed(decimals).replace('-', '−')))));
  const { limit } = found;
  if (limit !== null && limit > from && limit < to) svg.append(draw('line', { class: 'level plan-limit', x1: x(limit), x2: x(limit), y1: frame.top, y2: y(0) }));
  svg.append(draw('text', { class: 'tick', x: width - frame.right, y: height - 6, 'text-anchor': 'end' }, found.unit === 'bar' ? unit : `${unit}/min`));
  return svg;
}
