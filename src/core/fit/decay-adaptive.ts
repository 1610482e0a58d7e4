/** The leak fit over a window that starts as early as one exponential can follow the settling. */
import { type Bins, type Columns, columnsFrom, usableColumns } from './bins.js';
import { creepBesideSettling } from './creep-beside-settling.js';
import { type CreepCourse, creepCourse } from './creep-course.js';
import { type DecayFit, type DecayOptions, fewestBins, fitColumns, plainFit, type PlainFit } from './decay.js';
import { lackOfFit, mostCorrelated } from './lack-of-fit.js';

/** Starts that are tried, as shares of the window left out. */
const starts = [0, 0.05, 0.1, 0.17, 0.25, 0.35, 0.5];

/** A poor fit that is less likely than this by chance moves the start on: sooner than `significant`, for caution. */
const doubtfulChance = 0.02;

/**
 * A start whose poor fit is even less likely than this is passed over without the thorough fit, which costs far more. That
 * is judged under as much correlation as can be; the thorough fit seldom finds better (a drift beside white noise: 1 of 164
 * holds of the simulator), and to start later is the cautious side.
 */
const hopelessChance = 1e-4;

/** Fewest bins that a window may be cut down to. */
const fewestLeft = 30;

/**
 * As `fitDecay`, but real assemblies settle with more than one time constant (heat, then creep of the hose), and what
 * settles quickly at first would bend the slope. The start moves later until one exponential is enough, and one step
 * more for what is left of the other but no longer shows; the window used is `origin` to `end` of the result. Where even
 * half of the window does not fit, the latest start is given and its `lackOfFit` is significant: the slope is then not
 * to be relied on.
 */
export function fitDecayAdaptive(bins: Bins, options: DecayOptions = {}): DecayFit | null {
  const all = usableColumns(bins);
  const n = all.time.length;
  if (n < fewestBins) return null;
  const first = all.time[0] as number;
  const span = (all.time[n - 1] as number) - first;
  let fit: DecayFit | null = null;
  let enough = false;
  for (const [i, share] of starts.entries()) {
    const columns = columnsFrom(all, first + share * span);
    const last = i === starts.length - 1 || columnsFrom(all, first + (starts[i + 1] as number) * span).time.length < fewestLeft;
    const plain = plainFit(columns, options);
    if (!enough && !last && lackOfFit(plain.window, plain.search.best.tau, mostCorrelated).chance < hopelessChance) continue;
    const final: boolean = enough || last;
    fit = fitColumns(columns, final && i > 0 ? { ...options, slowerSettling: settledInEFold(all, plain) } : options, plain) ?? fit;
    if (fit === null || final) break;
    enough = fit.lackOfFit.chance >= doubtfulChance;
    if (enough && share === 0) break;
  }
  // Where there may be no leak at all, a creep has nothing to add; beside a settling it is looked for where one was not enough.
  if (fit === null || fit.lowest <= 0) return fit;
  const creep = creepCourse(all, options, doubtfulChance);
  return withCreep(fit, creep !== null || fit.origin === first ? creep : creepBesideSettling(all, options, doubtfulChance));
}

/** A creep that explains the whole window as well says how little the leak may be. */
function withCreep(fit: DecayFit, creep: CreepCourse | null): DecayFit {
  if (creep === null || creep.lowest >= fit.lowest) return fit;
  const half = fit.leakRate - creep.lowest;
  const standardError = half / 1.96;
  return { ...fit, lowest: creep.lowest, standardError, halfWidth: half, hidden: Math.sqrt(Math.max(0, standardError ** 2 - fit.standardError ** 2 + fit.hidden ** 2)) };
}

/** s; what settles more quickly has settled while the pump was still at work. */
const quickest = 1;

/** bar that settled in an e-fold of time, on average since then; at least what the noise hides. */
function settledInEFold({ time, pressure }: Columns, { window, profile, search }: PlainFit): number {
  const { tau, amplitude, rss } = search.best;
  const [level, slope] = profile.coefficients(tau, amplitude) as unknown as [number, number];
  const first = (time[0] as number) - window.origin;
  const settled = (pressure[0] as number) - window.base - level - slope * first;
  const eFolds = Math.log(((time[time.length - 1] as number) - (time[0] as number)) / quickest);
  return Math.max(settled, Math.sqrt(rss / window.n / window.count)) / Math.max(1, eFolds);
}
