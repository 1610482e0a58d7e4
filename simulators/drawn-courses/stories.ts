import type { Verdict } from '../../src/core/outcome.js';
import { parsePlan, type Plan } from '../../src/core/plan.js';
import type { Trace } from '../../src/core/trace.js';
import { type Random, randomFor } from '../random.js';
import { Course, settling, type Settling } from './course.js';
import { readings, signalFor, type Signal } from './signal.js';

/** What happens in a drawn course, and the verdict of a careful engineer with the same trace. */
export const stories = {
  sound: 'pass',
  'in stages': 'pass',
  'purged before': 'pass',
  'bled down': 'pass',
  'touched up while settling': 'pass',
  'mains hum': 'pass',
  'wild readings': 'pass',
  'three cycles': 'pass',
  'loses too much': 'fail',
  'leaks steadily': 'fail',
  'leaks from mid-hold on': 'fail',
  'real peak above the ceiling': 'fail',
  'bursts in the hold': 'fail',
  'vented early': 'inconclusive',
  'topped up in the hold': 'inconclusive',
  'readings missing in the hold': 'inconclusive',
  'pumped too low': 'inconclusive',
  'one cycle cut short': 'inconclusive',
} as const satisfies Record<string, Verdict>;

export type Story = keyof typeof stories;

export const storyNames = Object.keys(stories) as Story[];

export interface DrawnRun {
  readonly story: Story;
  readonly plan: Plan;
  readonly trace: Trace;
  readonly verdict: Verdict;
  /** s; settling is over here after the first rise, by the threshold's own words and without noise. */
  readonly settled: number;
}

interface Draft {
  readonly random: Random;
  readonly story: Story;
  /** bar */ readonly pressure: number;
  /** bar, where pumping ends. */ readonly target: number;
  /** s */ readonly hold: number;
  readonly settling: Settling;
  readonly signal: Signal;
  /** bar lost in the hold by settling alone. */ readonly natural: number;
  /** bar */ readonly dropLimit: number;
  /** bar */ readonly ceiling: number;
  /** bar/min */ readonly leakLimit: number;
}

/** Draws one run; the same story and seed give the same run. */
export function drawnRun(story: Story, seed: number): DrawnRun {
  const random = randomFor(`drawn ${story}`, seed);
  const pressure = Math.round(Math.exp(random.between(Math.log(40), Math.log(1500))) / 5) * 5;
  const peaks = story === 'real peak above the ceiling' || story === 'wild readings';
  const signal = signalFor(random.fork('signal'), pressure, peaks ? 100 : 5);
  const hold = random.pick([30, 60, 60, 120]);
  const course = settling(random.fork('settling'), pressure);
  const natural = course.lost(course.over + hold) - course.lost(course.over);
  const above = story === 'pumped too low' ? random.between(0.8, 0.97) : random.between(1.012, 1.035);
  const creep = course.lost(course.over + 60) - course.lost(course.over + 30);
  const draft: Draft = {
    random, story, pressure, target: pressure * above, hold, settling: course, signal, natural,
    dropLimit: Math.max(2.2 * natural + 0.004 * pressure, 8 * signal.noise, 4 * signal.step),
    ceiling: pressure * random.between(1.09, 1.14),
    leakLimit: Math.max(0.004 * pressure, 12 * creep, (7200 * signal.noise) / (hold * Math.sqrt(signal.rate * hold)), (180 * signal.step) / hold),
  };
  return { story, plan: planOf(draft), ...told(draft), verdict: stories[story] };
}

function planOf({ random, story, pressure, target, hold, settling: { lost, over }, dropLimit, ceiling, leakLimit }: Draft): Plan {
  const drop = story === 'loses too much' || story === 'leaks from mid-hold on' || random.chance(0.6);
  const floor = Math.min(0.985 * pressure, target - lost(over + hold + 30) - 0.008 * pressure);
  return parsePlan(
    {
      plan: story, testPressure: `${pressure} bar`, holdTime: `${hold} s`, ceilingPressure: `${ceiling.toFixed(2)} bar`,
      ...(drop && { maximumDrop: `${dropLimit.toFixed(3)} bar` }),
      ...((!drop || random.chance(0.5)) && { minimumPressure: `${floor.toFixed(2)} bar` }),
      ...(story === 'leaks steadily' && { leakLimit: `${leakLimit.toFixed(4)} bar/min` }),
      ...((story === 'three cycles' || story === 'one cycle cut short') && { cycles: 3 }),
    },
    story,
  );
}

/** Pumps to the target in one of three ways. */
function rise(course: Course, { random, target }: Draft, share = 1): void {
  const strokes = random.whole(15, 55);
  const way = random.pick(['hand', 'air', 'ramp']);
  if (way === 'hand') course.pump(target, share * random.between(15, 60), Math.ceil(share * strokes), course.level > 0 ? 1 : random.between(1, 1.7));
  else if (way === 'air') course.airPump(target, share * random.between(10, 40), strokes);
  else course.ramp(target, share * random.between(5, 30));
}

/** Settling from where the course stands, less what else is lost (bar by s since pumping ended). */
function watch(course: Course, { settling: { lost } }: Draft, length: number, more: (t: number) => number = () => 0): void {
  const { level } = course;
  course.add(length, (t) => Math.max(0, level - lost(t) - more(t)));
}

/** Carries a draft out. */
function told(d: Draft): { trace: Trace; settled: number } {
  const { random, story, pressure, target, hold, signal, settling: { over } } = d;
  const course = new Course().rest(random.between(3, 20));
  const whole = over + hold + random.between(12, 25);
  let settled = 0;
  let [lost, wrong]: [(t: number) => boolean, (i: number) => number | null] = [() => false, () => null];
  const once = (length: number, more?: (t: number) => number): number => {
    rise(course, d);
    const from = course.end;
    if (settled === 0) settled = from + over;
    watch(course, d, length, more);
    return from;
  };
  /** s since pumping ended, somewhere inside the hold. */
  const inHold = (from: number, to: number): number => over + hold * random.between(from, to);

  if (story === 'in stages') {
    course.pump(pressure * random.between(0.3, 0.6), random.between(6, 20), 12, 1.2);
    course.rest(random.between(10, 60));
    once(whole);
  } else if (story === 'purged before') {
    for (let i = 0; i < 3; i++) course.pump(pressure * random.between(0.05, 0.2), random.between(2, 6), 4).rest(random.between(1, 5)).vent(2).rest(3);
    once(whole);
  } else if (story === 'bled down') {
    course.pump(pressure * random.between(1.04, 1.07), random.between(10, 40), random.whole(12, 50), 1.2).rest(random.between(1, 4));
    course.ramp(target, random.between(1, 4));
    settled = course.end + over;
    watch(course, d, whole);
  } else if (story === 'touched up while settling') {
    rise(course, d);
    watch(course, d, random.between(3, 8));
    course.pump(target, random.between(0.4, 1), 1);
    settled = course.end + over;
    watch(course, d, whole);
  } else if (story === 'three cycles' || story === 'one cycle cut short') {
    for (let i = 0; i < 3; i++) {
      once(story === 'one cycle cut short' && i === 1 ? over + 0.5 * hold - 3 : whole);
      course.vent(random.between(3, 10)).rest(random.between(5, 20));
    }
  } else if (story === 'vented early') once(inHold(0.4, 0.85) - 4);
  else if (story === 'loses too much') {
    const rate = (d.dropLimit * random.between(1.7, 3) - d.natural) / hold;
    once(whole + 30, (t) => rate * t);
  } else if (story === 'leaks steadily') {
    const rate = (d.leakLimit * random.between(2.5, 5)) / 60;
    once(whole + 30, (t) => rate * t);
  } else if (story === 'leaks from mid-hold on') {
    const begin = inHold(0.3, 0.6);
    const rate = (d.dropLimit * random.between(1.8, 2.5)) / (over + hold - begin - 1);
    once(whole, (t) => rate * Math.max(0, t - begin));
  } else if (story === 'bursts in the hold') {
    const at = inHold(0.2, 0.8), left = random.between(0, 0.2);
    once(whole, (t) => (t < at ? 0 : target * (1 - left) * (1 - Math.exp((at - t) / 0.03))));
  } else if (story === 'topped up in the hold') {
    const at = inHold(0.25, 0.75), much = Math.max(random.between(0.006, 0.012) * pressure, 20 * signal.noise, 6 * signal.step);
    const smooth = (x: number): number => x * x * (3 - 2 * x);
    once(whole, (t) => -much * smooth(Math.min(1, Math.max(0, (t - at) / 0.5))));
  } else if (story === 'real peak above the ceiling') {
    const at = inHold(0.2, 0.8), width = random.between(0.06, 0.2), height = d.ceiling * random.between(1.04, 1.08) - target;
    once(whole, (t) => (Math.abs(t - at) < width / 2 ? -height * Math.cos((Math.PI * (t - at)) / width) ** 2 : 0));
  } else if (story === 'mains hum') {
    const height = random.between(1e-4, 4e-4) * signal.range, frequency = 49.97 + random.between(-0.05, 0.05);
    once(whole);
    const clean = course.at.bind(course);
    course.at = (t) => clean(t) + height * Math.sin(2 * Math.PI * frequency * t);
  } else {
    const from = once(whole);
    if (story === 'readings missing in the hold') {
      const [begin, length] = [from + inHold(0.2, 0.5), random.between(3, 9)];
      lost = (t) => t >= begin && t < begin + length;
    } else if (story === 'wild readings') {
      const places = new Set(Array.from({ length: random.whole(1, 12) }, () => Math.round(random.between(from - 3, from + whole) * signal.rate)));
      wrong = (i) => (places.has(i) ? random.pick([0, signal.range, -5, pressure * 1.3, pressure * 0.5]) : null);
    }
  }
  if (course.level > 0.01 * pressure) course.vent(random.between(3, 12));
  course.rest(random.between(6, 15));
  return { trace: readings(random.fork('readings'), signal, course.end, (t) => course.at(t), lost, wrong), settled };
}
