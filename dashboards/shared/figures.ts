import { fromBar, type PressureUnit } from '../../src/core/units.js';

/** Units that the page switches between; a bench set to another one adds its own. */
export const shownUnits: readonly PressureUnit[] = ['bar', 'MPa', 'psi'];

const usualStep: Partial<Record<PressureUnit, number>> = { bar: 0.1, MPa: 0.01, psi: 1 };

/** What the browser's language puts between whole and parts: `.`, `,`. */
const separator = new Intl.NumberFormat().formatToParts(0.5).find(({ type }) => type === 'decimal')?.value ?? '.';

/** A figure as the browser's language writes it; nothing is put between thousands, where point and comma could be taken for each other. */
export const localFigure = (text: string): string => (separator === '.' ? text : text.replace('.', separator));

/**
 * Decimals worth showing in `unit`: as fine as the instrument resolves, never finer.
 * @param resolution bar; `null` where it is not known
 */
export function decimalsOf(unit: PressureUnit, resolution: number | null): number {
  const step = resolution === null || !(resolution > 0) ? (usualStep[unit] ?? fromBar(0.1, unit)) : fromBar(resolution, unit);
  // 1e-9: 0.1 bar is 0.01 MPa, although the double is a hair more.
  return Math.min(Math.max(Math.ceil(-Math.log10(step) - 1e-9), 0), 4);
}

/** A pressure as a figure without its unit; a dash where there is none, never 0. */
export function figure(bar: number | null | undefined, unit: PressureUnit, resolution: number | null): string {
  if (bar === null || bar === undefined || !Number.isFinite(bar)) return '–';
  const text = fromBar(bar, unit).toFixed(decimalsOf(unit, resolution));
  return localFigure(Number(text) === 0 ? text.replace('-', '') : text.replace('-', '−'));
}

/** A pressure with its unit. */
export function pressureText(bar: number | null | undefined, unit: PressureUnit, resolution: number | null): string {
  return `${figure(bar, unit, resolution)} ${unit}`;
}

const inText = /(?<![\w.])([+\-−]?\d+(?:\.\d+)?)\s(bar(?:\/(?:s|min))?)(?!\w)/g;

/** A sentence of the daemon, which speaks in bar, with its pressures in the unit that the page shows. */
export function inUnit(sentence: string, unit: PressureUnit): string {
  return inLanguage(unit === 'bar' ? sentence : sentence.replace(inText, (_whole, number: string, rate: string) => {
    const digits = (number.split('.')[1] ?? '').length;
    const value = fromBar(Number(number.replace('−', '-')), unit);
    const decimals = Math.min(Math.max(digits - Math.round(Math.log10(fromBar(1, unit))), 0), 4);
    return `${value.toFixed(decimals)} ${rate.replace('bar', unit)}`;
  }));
}

/** Measured numbers of a sentence as the browser's language writes them. */
const inLanguage = (sentence: string): string => (separator === '.' ? sentence : sentence.replace(/(\d)\.(\d+)(?=\s?(?:bar|MPa|psi|s\b|%|ml))/g, `$1${separator}$2`));
