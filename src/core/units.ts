/**
 * Pressure units with exact factors. Inside Dwellkeeper every pressure is bar; units live at the edges only.
 *
 * Sources: NIST SP 811 (2008), appendix B.8; exact values follow from lbf = 4.448 221 615 260 5 N,
 * inch = 0.0254 m and g_n = 9.806 65 m/s2 (all exact by definition).
 */

/** Pascals in one unit; exact, or the shortest double nearest to the exact quotient. */
const pascals = {
  bar: 1e5,
  mbar: 100,
  Pa: 1,
  kPa: 1e3,
  MPa: 1e6,
  psi: 4.4482216152605 / (0.0254 * 0.0254),
  ksi: 4448.2216152605 / (0.0254 * 0.0254),
  'kgf/cm2': 98066.5,
  atm: 101325,
  mmHg: 133.322387415,
  cmH2O: 98.0665,
  mH2O: 9806.65,
} as const;

/** A pressure unit that files, instruments and pages may use. */
export type PressureUnit = keyof typeof pascals;

export const pressureUnits = Object.keys(pascals) as readonly PressureUnit[];

/** What people and instruments write for each unit; compared without case, blanks and full stops. */
const spellings: Readonly<Record<PressureUnit, readonly string[]>> = {
  bar: ['bar', 'barg', 'bar(g)', 'bars'],
  mbar: ['mbar', 'hpa', 'mbarg'],
  Pa: ['pa'],
  kPa: ['kpa'],
  MPa: ['mpa', 'n/mm2', 'n/mm²'],
  psi: ['psi', 'psig', 'lbf/in2', 'lb/in2', 'lbf/in²', 'psi(g)'],
  ksi: ['ksi'],
  'kgf/cm2': ['kgf/cm2', 'kg/cm2', 'kgf/cm²', 'kg/cm²', 'at', 'kp/cm2'],
  atm: ['atm'],
  mmHg: ['mmhg'],
  cmH2O: ['cmh2o', 'cmwc'],
  mH2O: ['mh2o', 'mwc'],
};

const bySpelling = new Map<string, PressureUnit>(
  pressureUnits.flatMap((unit) => spellings[unit].map((text) => [text, unit] as const)),
);

/**
 * The unit that a text names, or `undefined` when it names none.
 * `mPa` (millipascal) is read as the instrument's MPa only when written exactly `MPa`, `Mpa` or `mpa`: nobody
 * proves a hose in millipascal.
 */
export function pressureUnitOf(text: string): PressureUnit | undefined {
  return bySpelling.get(text.trim().toLowerCase().replaceAll(/[\s.]/g, ''));
}

/** bar in one `unit`. */
export function barPer(unit: PressureUnit): number {
  return pascals[unit] / 1e5;
}

/** `value` of `unit`, as bar. One division, so that decimal values stay as exact as a double allows. */
export function toBar(value: number, unit: PressureUnit): number {
  return unit === 'bar' ? value : (value * pascals[unit]) / 1e5;
}

/** `bar`, as `unit`. */
export function fromBar(bar: number, unit: PressureUnit): number {
  return unit === 'bar' ? bar : (bar * 1e5) / pascals[unit];
}
