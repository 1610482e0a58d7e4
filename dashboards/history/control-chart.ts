import { fromBar, type PressureUnit } from '../../src/core/units.js';
import type { Statistics, StatisticsPoint } from '../../src/server/history-answers.js';
import { localFigure } from '../shared/figures.js';
import { make } from '../shared/page-parts.js';
import { dayAndTime } from './page-elements.js';
import { valueText } from './run-figures.js';
import { draw, fitted, ticks, type Drawn } from './svg.js';

const height = 300;
const rangeHeight = 120;
const frame = { left: 56, right: 16, top: 14, bottom: 26 } as const;

/** A line across the chart with its word. */
interface Level {
  readonly value: number;
  readonly word: string;
  readonly name: string;
}

/** The values over time with their limits and the moving average; below, the steps from test to test. `null` without a value. */
export function controlCharts(found: Statistics, unit: PressureUnit, open: (run: number) => void): Drawn | null {
  if (!found.points.some(({ value }) => value !== null)) return null;
  const values = fitted(make('div', 'control'), (width) => valuesChart(found, unit, width, open));
  const ranges = found.chart === null ? null : fitted(make('div', 'control ranges'), (width) => rangesChart(found, unit, width));
  const element = make(
    'div', 'charts',
    make('p', 'key', make('span', 'dot'), 'first test, passed', make('span', 'dot failed'), 'failed', make('span', 'dot apart'), 'retest or inconclusive: not counted', make('span', 'line average'), 'moving average'),
    values.element,
    ...(ranges === null ? [] : [make('p', 'key', 'Step from test to test, without sign'), ranges.element]),
  );
  return {
    element,
    leave: () => {
      values.leave();
      ranges?.leave();
    },
  };
}

/** Where things lie in a chart of so many places. */
function scales(count: number, low: number, high: number, width: number, tall: number) {
  const inner = width - frame.left - frame.right;
  const room = tall - frame.top - frame.bottom;
  return {
    x: (place: number): number => frame.left + (count < 2 ? inner / 2 : (inner * place) / (count - 1)),
    y: (value: number): number => frame.top + room * (1 - (value - low) / Math.max(high - low, 1e-12)),
  };
}

type Scales = ReturnType<typeof scales>;

function valuesChart(found: Statistics, unit: PressureUnit, width: number, open: (run: number) => void): SVGElement {
  const { points, chart, limit } = found;
  const shown = points.flatMap((point, i) => (point.value === null ? [] : [{ ...point, i, value: point.value }]));
  const levels = levelsOf(found);
  // The plan's limit may lie far above everything measured; it is shown only where it does not press the rest flat.
  const extremes = [...shown.map(({ value }) => value), ...levels.map(({ value }) => value)];
  const [least, most] = [Math.min(...extremes), Math.max(...extremes)];
  // A test far off must not press the others flat either: it stands at the upper edge, with an arrow.
  const near = limit !== null && limit <= most + 1.5 * (most - least) ? limit : null;
  const [low, high] = padded(least, Math.min(Math.max(most, near ?? most), highest(found)));
  const scale = scales(shown.length, low, high, width, height);
  const place = new Map(shown.map(({ i }, at) => [i, at] as const));
  const sentence = `${shown.length} tests, run ${shown[0]?.run ?? 0} to ${shown.at(-1)?.run ?? 0}. ${found.sentences[0] ?? ''}`;
  const svg = framed(width, height, sentence);
  svg.append(...axis(low, high, scale, unit, width, height, found));
  for (const level of [...levels, ...(near === null ? [] : [{ value: near, word: 'limit of the plan', name: 'plan-limit' }])]) svg.append(...drawLevel(level, scale, width));
  if (chart !== null) {
    const average = chart.at.map((i, n) => [scale.x(place.get(i) ?? 0), scale.y(Math.min(chart.ewma.averages[n] ?? 0, high))] as const);
    svg.append(draw('polyline', { class: 'average', points: average.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(' ') }));
  }
  const flagged = new Set(chart?.broken.map(({ at }) => chart.at[at]));
  shown.forEach((point, at) => svg.append(mark(point, scale.x(at), scale.y(Math.min(point.value, high)), { stands: flagged.has(point.i), beyond: point.value > high, value: valueText(point.value, found, unit) }, open)));
  svg.append(...runLabels(shown, scale, width, height));
  return svg;
}

/** Where the picture ends: as far above the upper limit as three times its distance from the centre. */
const highest = ({ chart }: Statistics): number => (chart === null || !(chart.limits.sigma > 0) ? Number.POSITIVE_INFINITY : chart.limits.upper + 3 * (chart.limits.upper - chart.limits.centre));

function levelsOf({ chart }: Statistics): Level[] {
  if (chart === null || !(chart.limits.sigma > 0)) return [];
  const { limits, ewma } = chart;
  return [
    { value: limits.upper, word: 'upper limit', name: 'limit' },
    { value: limits.centre, word: 'centre', name: 'centre' },
    { value: limits.lower, word: 'lower limit', name: 'limit' },
    { value: ewma.upper, word: '', name: 'ewma-limit' },
    { value: ewma.lower, word: '', name: 'ewma-limit' },
  ];
}

function rangesChart(found: Statistics, unit: PressureUnit, width: number): SVGElement {
  const { chart } = found;
  const ranges = chart?.ranges ?? [];
  const upper = chart?.limits.upperRange ?? 0;
  const [low, high] = [0, Math.max(upper, ...ranges, 1e-9) * 1.1];
  const scale = scales(Math.max(ranges.length + 1, 2), low, high, width, rangeHeight);
  const svg = framed(width, rangeHeight, `Steps from test to test; ${ranges.filter((range) => range > upper).length} of ${ranges.length} are above their limit.`);
  svg.append(...axis(low, high, scale, unit, width, rangeHeight, found));
  if (chart !== null) svg.append(...drawLevel({ value: upper, word: 'upper limit', name: 'limit' }, scale, width));
  svg.append(draw('polyline', { class: 'steps', points: ranges.map((range, i) => `${scale.x(i + 1).toFixed(1)},${scale.y(range).toFixed(1)}`).join(' ') }));
  return svg;
}

const padded = (low: number, high: number): readonly [number, number] => {
  const by = Math.max((high - low) * 0.06, Math.abs(high) * 0.02, 1e-6);
  return [low - by, high + by];
};

function framed(width: number, tall: number, sentence: string): SVGElement {
  return draw('svg', { class: 'plot', viewBox: `0 0 ${width} ${tall}`, width, height: tall, role: 'img', 'aria-label': sentence });
}

/** Labelled values at the left. */
export function axis(low: number, high: number, { y }: Pick<Scales, 'y'>, unit: PressureUnit, width: number, tall: number, { unit: kind }: Pick<Statistics, 'unit'>): SVGElement[] {
  const factor = fromBar(1, unit);
  const { at, decimals } = ticks(low * factor, high * factor, tall / 50);
  const lines = at.flatMap((value) => [
    draw('line', { class: 'grid', x1: frame.left, x2: width - frame.right, y1: y(value / factor), y2: y(value / factor) }),
    draw('text', { class: 'tick', x: frame.left - 6, y: y(value / factor) + 4, 'text-anchor': 'end' }, localFigure(value.toFixed(decimals).replace('-', '−'))),
  ]);
  return [...lines, draw('text', { class: 'tick', x: 2, y: 11 }, kind === 'bar' ? unit : `${unit}/min`)];
}

function drawLevel({ value, word, name }: Level, { y }: Scales, width: number): SVGElement[] {
  const line = draw('line', { class: `level ${name}`, x1: frame.left, x2: width - frame.right, y1: y(value), y2: y(value) });
  return word === '' ? [line] : [line, draw('text', { class: 'level-word', x: frame.left + 4, y: y(value) - 4 }, word)];
}

/** A test: a disc passed, a square failed, a hollow diamond is not counted; a ring around it stands out. */
function mark(
  { run, wall, result, retest, assemblies }: StatisticsPoint, x: number, y: number, { stands, beyond, value }: { readonly stands: boolean; readonly beyond: boolean; readonly value: string }, open: (run: number) => void,
): SVGElement {
  const apart = retest || result === 'inconclusive';
  const r = 3.6;
  const shape = apart
    ? draw('path', { class: 'point apart', d: `M${x} ${y - r - 1}l${r + 1} ${r + 1}-${r + 1} ${r + 1}-${r + 1}-${r + 1}z` })
    : result === 'fail'
      ? draw('rect', { class: 'point failed', x: x - r, y: y - r, width: 2 * r, height: 2 * r })
      : draw('circle', { class: 'point', cx: x, cy: y, r });
  const about = `Run ${run}, ${dayAndTime(wall)}: ${value}, ${result}${retest ? ', retest' : ''}${assemblies > 1 ? `, ${assemblies} assemblies` : ''}`;
  const arrow = beyond ? [draw('path', { class: 'beyond', d: `M${x} ${y - 13}l4 6h-8z` })] : [];
  const group = draw('g', { class: 'test' }, draw('title', {}, about), ...(stands ? [draw('circle', { class: 'ring', cx: x, cy: y, r: 8 })] : []), ...arrow, shape);
  group.addEventListener('click', () => open(run));
  return group;
}

function runLabels(shown: readonly { readonly run: number }[], { x }: Scales, width: number, tall: number): SVGElement[] {
  const every = Math.max(Math.ceil(shown.length / Math.max(Math.floor(width / 90), 1)), 1);
  return shown.flatMap(({ run }, at) => (at % every === 0 ? [draw('text', { class: 'tick', x: x(at), y: tall - 8, 'text-anchor': 'middle' }, `run ${run}`)] : []));
}
