import { fitDecayAdaptive } from './fit/decay-adaptive.js';
import { fitLinear } from './fit/linear-least-squares.js';
import type { CycleRecord } from './reading/cycle-record.js';

/** The curve that the leak of a hold was read from: level + slope u + settling exp(-u/timeConstant), u = t - from. */
export interface HoldCurve {
  /** s on the trace's clock: first and last average that it follows. */
  readonly from: number;
  readonly to: number;
  /** bar */ readonly level: number;
  /** bar/s, negative when pressure is lost. */ readonly slope: number;
  /** bar */ readonly settling: number;
  /** s */ readonly timeConstant: number;
  /** A leak that set in during the hold: from `at` (s) on the slope is lower by `slope` (bar/s, negative). */
  readonly bend: { readonly at: number; readonly slope: number } | null;
}

/** One hold as it was read, for looking into. Times in s on the trace's clock, pressures in bar. */
export interface HoldDetail {
  /** The last pump stroke before it; `null` where none was seen. */
  readonly lastPumping: number | null;
  readonly settled: number | null;
  /** What ended the settling. */
  readonly settledBy: CycleRecord['settledBy'];
  readonly holdEnd: number | null;
  /** Strokes during the hold: when each began (s) and by how much it lifted the pressure (bar). The fit has them taken off. */
  readonly topUps: readonly { readonly at: number; readonly rise: number }[];
  /** The averages that the leak was fitted on. */
  readonly averages: { readonly time: readonly number[]; readonly pressure: readonly number[]; readonly count: readonly number[] };
  /** `null` where there was too little to fit. */
  readonly curve: HoldCurve | null;
}

/**
 * What was read of a hold, with the curve behind its leak. Looks only: the outcome has been judged already.
 * @param cycle as the reader told it
 * @param origin s, the zero of the fit's times on the trace's clock
 * @param startedAt s on the trace's clock: where the outcome says that a leak began in mid-hold
 * @param resolution bar, smallest step of the readings; 0 where not known
 */
export function holdDetail(cycle: CycleRecord, origin: number, startedAt: number | null, resolution: number): HoldDetail {
  const { lastPumping, settled, settledBy, holdEnd, topUps, fitTimes, fitMeans, fitCounts } = cycle;
  return {
    lastPumping, settled, settledBy, holdEnd, topUps,
    averages: { time: fitTimes.map((t) => t + origin), pressure: fitMeans, count: fitCounts },
    curve: settled === null ? null : curveOf(cycle, origin, startedAt, resolution),
  };
}

function curveOf(cycle: CycleRecord, origin: number, startedAt: number | null, resolution: number): HoldCurve | null {
  const { fitTimes: time, fitMeans: pressure, fitCounts: weight } = cycle;
  const fit = fitDecayAdaptive({ time, pressure, weight }, { resolution });
  if (fit === null) return null;
  const { level, slope, settling, timeConstant } = fit;
  const [from, to] = [fit.origin + origin, fit.end + origin];
  const plain = { from, to, level, slope, settling, timeConstant, bend: null };
  return startedAt === null ? plain : (bent(cycle, plain, startedAt - from, fit.origin) ?? plain);
}

/** The same curve with a bend `at` seconds after its start, fitted anew; `null` where that cannot be solved. */
function bent({ fitTimes, fitMeans, fitCounts }: CycleRecord, curve: HoldCurve, at: number, start: number): HoldCurve | null {
  const kept = fitTimes.map((_, i) => i).filter((i) => (fitTimes[i] as number) >= start);
  const u = kept.map((i) => (fitTimes[i] as number) - start);
  const settles = curve.settling !== 0;
  const columns = [
    u.map(() => 1), u, u.map((t) => Math.max(0, t - at)),
    ...(settles ? [u.map((t) => Math.exp(-t / curve.timeConstant))] : []),
  ];
  const fit = fitLinear(columns, kept.map((i) => fitMeans[i] as number), kept.map((i) => fitCounts[i] as number));
  if (fit === null) return null;
  const [level, slope, bend, settling = 0] = fit.estimates;
  if (level === undefined || slope === undefined || bend === undefined) return null;
  return { ...curve, level, slope, settling, bend: { at: curve.from + at, slope: bend } };
}

/** bar: what strokes during the hold have lifted the pressure by, up to `time` (s). */
export const liftedBy = ({ topUps }: HoldDetail, time: number): number => topUps.reduce((sum, { at, rise }) => (time > at ? sum + rise : sum), 0);

/** bar: the curve at `time` (s on the trace's clock). */
export function curveAt(curve: HoldCurve, time: number): number {
  const u = time - curve.from;
  const bend = curve.bend === null ? 0 : curve.bend.slope * Math.max(0, time - curve.bend.at);
  return curve.level + curve.slope * u + bend + (curve.settling === 0 ? 0 : curve.settling * Math.exp(-u / curve.timeConstant));
}
