import type { ControlChart, StatisticsPoint } from '../server/history-answers.js';

/** What a control chart says, in words: each a sentence, the most urgent first. */
export function chartSentences(points: readonly StatisticsPoint[], chart: ControlChart | null, measure: 'leak' | 'drop', wanted: number): string[] {
  const word = measure === 'leak' ? 'leak rate' : 'drop in the hold';
  const said = [...changes(points), ...mixed(points)];
  if (chart === null) return ['There are not yet 8 passed first tests with a figure: no limits are drawn.', ...said];
  const runAt = (n: number): number => points[chart.at[n] ?? -1]?.run ?? 0;
  const [high, low] = [drift(chart, 'above'), drift(chart, 'below')];
  const broken = chart.broken.filter(({ side }) => side === 'above');
  const found = [
    ...(high === null ? [] : [`The ${word} is drifting up: since run ${runAt(high)} its moving average lies above the upper limit. Look at the crimp die, the hose lot and the seals of the bench before assemblies fail.`]),
    ...(high === null && broken.length > 0 ? [`The ${word} is higher than chance alone explains at run ${runAt(broken.at(-1)?.at ?? 0)}.`] : []),
    ...(low === null ? [] : [`The ${word} is lower than before since run ${runAt(low)}: something has changed; see that it is still measured rightly.`]),
    ...(chart.limits.sigma > 0 ? [] : [`The ${word} does not vary at all in the first tests: no limits can be drawn from it.`]),
  ];
  const calm = found.length === 0 ? [`The ${word} varies as chance alone would have it.`] : [];
  return [...found, ...calm, `The limits come from the first ${chart.baseline} passed tests${chart.baseline < wanted ? ` (${wanted} are wanted; they will still move)` : ''}.`, ...said];
}

/** Where the average went beyond its limit and has stayed there to the end; `null` where it has not. */
function drift({ ewma: { averages, upper, lower }, limits }: ControlChart, side: 'above' | 'below'): number | null {
  if (!(limits.sigma > 0)) return null;
  const inside = averages.findLastIndex((average) => (side === 'above' ? average <= upper : average >= lower));
  return inside === averages.length - 1 ? null : inside + 1;
}

/** Runs at which the plan became another version. */
function changes(points: readonly StatisticsPoint[]): string[] {
  const at = points.flatMap(({ run, planVersion }, i) => (i > 0 && points[i - 1]?.planVersion !== planVersion ? [run] : []));
  if (at.length === 0) return [];
  const runs = at.length > 5 ? `${at.slice(0, 5).join(', ')} and ${at.length - 5} more` : at.join(', ');
  return [`The plan was changed at run ${runs}: figures before and after may not compare.`];
}

function mixed(points: readonly StatisticsPoint[]): string[] {
  const counts = new Set(points.map(({ assemblies }) => assemblies));
  return counts.size < 2 ? [] : ['Tests of different numbers of assemblies are mixed: a figure is that of all assemblies on the manifold together. Choose one number to compare like with like.'];
}
