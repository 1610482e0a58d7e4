import type { Finding } from '../../outcome.js';
import { minimumDuringHold } from '../../plan.js';
import { resolve } from '../../quantity.js';
import type { CycleRecord } from '../../reading/cycle-record.js';
import { finding, type RunContext } from '../context.js';
import { bar, seconds } from '../showing.js';

/** One reason why the readings do not tell. */
export interface Doubt {
  readonly at: number | null;
  readonly text: string;
}

/** Rule `data`: the readings must be such that they can tell. */
export function signal(c: RunContext): Finding {
  const doubts = [...wholeRun(c), ...c.doubts, ...c.cycles.flatMap((r) => [...unseenRise(r), ...untold(r), ...gaps(c, r), ...saturation(c, r), ...flatline(c, r), ...zero(c, r), ...failed(c, r)])];
  const first = doubts[0];
  if (first === undefined) return finding('data', 'met', 'The readings are complete and plausible.', { unit: '' });
  const more = doubts.length > 1 ? ` ${doubts.slice(1).map((d) => `${d.text}.`).join(' ')}` : '';
  return finding('data', 'undecided', `${first.text}.${more}`, { unit: '', at: first.at });
}

function wholeRun(c: RunContext): Doubt[] {
  const doubts: Doubt[] = [];
  if (c.suspectedUnit !== null) {
    doubts.push({ at: null, text: `The readings fit the plan if they are ${c.suspectedUnit}, not bar: the unit is suspected to be wrong` });
  }
  if (c.instrument.calibrationOverdue === true && !c.plan.allowOverdueCalibration) {
    doubts.push({ at: null, text: 'The calibration of the transducer was overdue' });
  }
  const lower = c.instrument.range?.lower ?? 0;
  if (lower > c.limits.ventPressure) {
    doubts.push({ at: null, text: `The transducer's range begins at ${bar(lower, c.step)}: it cannot show a vented bench` });
  }
  const finest = finestTolerance(c);
  const step = Math.max(c.resolution ?? 0, c.seenStep);
  if (finest !== null && step > finest / 2) {
    doubts.push({ at: null, text: `The readings come in steps of ${bar(step, step / 10)}, too coarse for a limit of ${bar(finest, finest / 10)}` });
  }
  return doubts;
}

/** bar: the smallest change that a limit of the plan turns on. */
function finestTolerance({ plan }: RunContext): number | null {
  const tolerances = [
    plan.maximumDrop === undefined ? null : resolve(plan.maximumDrop, plan.testPressure),
    plan.minimumPressure === undefined ? null : plan.testPressure - plan.minimumPressure,
    plan.ceilingPressure === undefined ? null : plan.ceilingPressure - plan.testPressure,
  ].filter((t): t is number => t !== null && t > 0);
  if (tolerances.length === 0) return minimumDuringHold(plan) === undefined ? null : resolve(plan.reachTolerance, plan.testPressure) || null;
  return Math.min(...tolerances);
}

/** Without the rise neither the vented reading nor the peak is known, and nothing shows that the sensor follows. */
const unseenRise = (r: CycleRecord): Doubt[] =>
  r.startsPressurised && r.arrived && r.reached === null
    ? [{ at: r.settled, text: 'The recording began at test pressure: neither the rise nor the vented reading before it was seen' }]
    : [];

/** Share of readings without a pressure above which the rest is not believed either. */
const mostUntold = 0.2;

const untold = (r: CycleRecord): Doubt[] =>
  r.untold > mostUntold * (r.told + r.untold)
    ? [{ at: r.rising, text: `Of ${r.told + r.untold} readings under pressure ${r.untold} told no pressure (empty, no number, or below what a gauge can read): the line or the instrument is at fault` }]
    : [];

const gaps = (c: RunContext, r: CycleRecord): Doubt[] =>
  r.gaps.slice(0, 3).map(({ from, to, scatter }) => ({
    at: from,
    text: scatter === undefined
      ? `No data for ${seconds(to - from)} from ${seconds(from)} on`
      : `The signal was disturbed for ${seconds(to - from)} from ${seconds(from)} on: the readings scattered by ${bar(scatter, c.step)} about their level, and what the pressure did there is not known`,
  }));

const saturation = (_c: RunContext, r: CycleRecord): Doubt[] =>
  r.saturatedAt === null ? [] : [{ at: r.saturatedAt, text: `The reading stood at the end of what the transducer can show from ${seconds(r.saturatedAt)} on` }];

/**
 * A shut gauge valve reads 'perfect'. Signs: readings frozen although this signal has noise; far less noise in the hold
 * than before; neither settling nor a vent to be seen.
 */
export function flatline(c: RunContext, r: CycleRecord): Doubt[] {
  const step = c.resolution ?? 0;
  const still = r.still;
  if (still !== null && still.to - still.from >= c.limits.flatlineTime) {
    // A quiet vented reading that lies between two steps flickers by half of one; only more than that is noise that must show.
    const noisy = (r.ventedNoise ?? 0) > 0.75 * step && (r.ventedNoise ?? 0) > 0;
    const fine = step <= 5e-5 * c.plan.testPressure && (r.rampNoise ?? 0) > Math.max(0.5 * step, 1e-5 * c.plan.testPressure);
    if (noisy || fine || r.lively || r.ended === 'end') {
      return [{ at: still.from, text: `The sensor did not move for ${seconds(still.to - still.from)} (${bar(still.pressure, c.step)} throughout): a shut gauge valve or a frozen instrument reads like this` }];
    }
  }
  if (r.ventedNoise !== null && r.holdNoise !== null && r.ventedNoise > step && r.holdNoise < 0.12 * r.ventedNoise) {
    return [{ at: r.settled, text: 'The hold is far quieter than this sensor was before: a shut gauge valve reads like this' }];
  }
  const { fall, error } = fallSincePumping(r);
  if (r.holdDone && r.ended === 'end' && fall < Math.max(2e-4 * c.plan.testPressure, 1.01 * step, 6 * error)) {
    return [{ at: r.settled, text: 'The pressure neither settled after pumping nor fell at a vent: whether the sensor saw the assembly is not known' }];
  }
  return [];
}

/** bar: by how much the pressure fell from the first tenth since pumping to the last of the hold, and its standard error. */
function fallSincePumping({ fitMeans, fitCounts }: CycleRecord): { fall: number; error: number } {
  const n = fitMeans.length;
  if (n < 2) return { fall: 0, error: 0 };
  const few = Math.ceil(n / 10);
  const count = (i: number) => fitCounts[i] as number;
  const mean = (i: number) => fitMeans[i] as number;
  const part = (from: number) => {
    let [samples, sum] = [0, 0];
    for (let i = from; i < from + few; i++) [samples, sum] = [samples + count(i), sum + count(i) * mean(i)];
    return { samples, mean: sum / samples };
  };
  // Steps between neighbours hold the noise alone.
  let steps = 0;
  for (let i = 1; i < n; i++) steps += (mean(i) - mean(i - 1)) ** 2 / (1 / count(i) + 1 / count(i - 1));
  const [first, last] = [part(0), part(n - few)];
  return { fall: first.mean - last.mean, error: Math.sqrt((steps / (n - 1)) * (1 / first.samples + 1 / last.samples)) };
}

function zero(c: RunContext, r: CycleRecord): Doubt[] {
  const limit = c.limits.zeroLimit;
  const { zeroBefore } = r;
  // What was pumped up again within the run was pressure; after the last cycle nothing shows that it was.
  const zeroAfter = r.zeroAfter ?? (r === c.cycles.at(-1) ? r.letDownTo : null);
  // A reading too low is no rest of pressure.
  const or = zeroAfter !== null && zeroAfter > (zeroBefore ?? 0) ? ' or the assembly was not fully vented' : '';
  const signed = (v: number) => `${v >= 0 ? '+' : ''}${bar(v, c.step)}`;
  if (zeroBefore !== null && Math.abs(zeroBefore) > limit + 1e-9) {
    return [{ at: r.rising, text: `The vented reading before the rise was ${signed(zeroBefore)}; at most ${bar(limit, c.step)} is allowed` }];
  }
  if (zeroBefore !== null && zeroAfter !== null && Math.abs(zeroAfter - zeroBefore) > limit + 1e-9) {
    return [{ at: r.endedAt, text: `${or === '' ? 'The' : 'Either the'} zero moved by ${signed(zeroAfter - zeroBefore)} during the run${or}; at most ${bar(limit, c.step)} is allowed` }];
  }
  if (zeroAfter !== null && Math.abs(zeroAfter) > limit + 1e-9) {
    return [{ at: r.endedAt, text: `The vented reading after the run was ${signed(zeroAfter)}; at most ${bar(limit, c.step)} is allowed: ${or === '' ? 'the' : 'either the'} transducer's zero has moved${or}` }];
  }
  return [];
}

/** A transducer that fails as the pressure goes may have been failing before. */
function failed(c: RunContext, { failedAfter }: CycleRecord): Doubt[] {
  if (failedAfter === null) return [];
  const { at, level } = failedAfter;
  const told = level === null ? 'told no pressure any more (out of range or at fault)' : `read ${bar(level, c.step)}, below what a gauge can read,`;
  return [{ at, text: `After the hold the transducer ${told} from ${seconds(at)} on: its zero has moved, or it or its line has failed` }];
}
