import { pressureUnitOf, fromBar, type PressureUnit } from '../core/units.js';
import type { CalibrationResult, Estimate } from './calibrate.js';
import type { PointFile } from './read-points.js';

/** The calibration for people: pressures in the unit of the reference, coefficients as a bench file has them (bar). */
export function reportText(result: CalibrationResult, file: PointFile): string {
  const unit: PressureUnit = pressureUnitOf(file.referenceUnit) ?? 'bar';
  const decimals = decimalsFor(fromBar(result.residualDeviation, unit), fromBar(result.span, unit));
  const shown = (bar: number): string => fromBar(bar, unit).toFixed(decimals);
  const { constant, linear, quadratic, figures, runs, degreesOfFreedom } = result;
  const ways = (way: string): number => runs.filter(({ direction }) => direction === way).length;
  const lines = [
    ...file.notes,
    runs.length === 0 ? 'the order of the points is mixed: no runs up and down' : `${ways('up')} ${ways('up') === 1 ? 'run' : 'runs'} up, ${ways('down')} down`,
    '',
    `corrected pressure = constant + linear p${quadratic === null ? '' : ' + quadratic p^2'}, p in bar`,
    `  constant   ${estimate(constant)} bar`,
    `  linear     ${estimate(linear)}`,
    ...(quadratic === null ? [] : [`  quadratic  ${estimate(quadratic)} 1/bar`]),
    `  scatter around it ${shown(result.residualDeviation)} ${unit} (standard deviation, ${degreesOfFreedom} degrees of freedom)`,
    '',
    `in % of a span of ${shown(result.span)} ${unit}:`,
    `  non-linearity  ${percent(figures.nonLinearity, 'needs three different pressures')}`,
    `  hysteresis     ${percent(figures.hysteresis, 'needs runs up and down')}`,
    `  repeatability  ${percent(figures.repeatability, 'needs two runs of the same direction')}`,
    '',
    ...table(['line', `reference ${unit}`, `reading ${unit}`, `corrected ${unit}`, `residual ${unit}`], result.points.map((p) => [String(p.line), shown(p.reference), shown(p.reading), shown(p.corrected), shown(p.residual)])),
    '',
    ...table([`reading ${unit}`, `corrected ${unit}`, 'u of the curve', 'U of one reading'], result.over.map((p) => [shown(p.reading), shown(p.corrected), shown(p.curve), shown(p.expanded)])),
    '',
    `largest expanded uncertainty ${shown(result.uncertainty)} ${unit} (about 95 %, coverage factor ${result.coverageFactor.toFixed(2)})`,
  ];
  return lines.join('\n');
}

const estimate = ({ value, uncertainty }: Estimate): string => `${Number(value.toPrecision(9))}  (standard uncertainty ${uncertainty.toPrecision(2)})`;
const percent = (value: number | null, needs: string): string => (value === null ? `not told: it ${needs}` : `${value.toFixed(3)} %`);

/** Digits that show a tenth of the scatter, and no more than the span deserves. */
function decimalsFor(scatter: number, span: number): number {
  const finest = scatter > 0 ? scatter : span / 10_000;
  return Math.min(8, Math.max(0, 1 - Math.floor(Math.log10(finest))));
}

function table(head: readonly string[], rows: readonly (readonly string[])[]): string[] {
  const widths = head.map((name, i) => Math.max(name.length, ...rows.map((row) => row[i]?.length ?? 0)));
  return [head, ...rows].map((row) => `  ${row.map((cell, i) => cell.padStart(widths[i] ?? 0)).join('  ')}`);
}
