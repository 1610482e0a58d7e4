import { tableCsv } from '../records/export-csv.js';
import type { Statistics } from '../server/history-answers.js';

/** The points of a chart for a spreadsheet, with average and broken rules. */
export function statisticsTable({ points, chart, unit, measure }: Statistics): string {
  const place = new Map(chart?.at.map((i, n) => [i, n] as const));
  const broken = (n: number | undefined) => chart?.broken.filter(({ at }) => at === n).map(({ rule, side }) => `${rule}, ${side}`).join('; ') ?? '';
  const column = `${measure}_${unit === 'bar' ? 'bar' : 'bar_per_min'}`;
  return tableCsv(
    ['run', 'from', 'result', 'retest', 'assemblies', column, 'moving_average', 'rules', 'plan_version'],
    points.map(({ run, wall, result, retest, assemblies, value, planVersion }, i) => {
      const n = place.get(i);
      return [run, new Date(wall).toISOString(), result, retest ? 'yes' : 'no', assemblies, value, n === undefined ? null : (chart?.ewma.averages[n] ?? null), n === undefined ? '' : broken(n), planVersion];
    }),
  );
}
