/**
 * The course of the last two seconds, as means of 50 ms: what a stretch of readings that tell nothing is compared with.
 */
export interface LevelBeforeState {
  /** s and bar: closed means, oldest first. */
  time: number[];
  mean: number[];
  /** The mean that is being made. */
  from: number;
  sumTime: number;
  sum: number;
  count: number;
}

export const freshLevelBefore = (): LevelBeforeState => ({ time: [], mean: [], from: 0, sumTime: 0, sum: 0, count: 0 });

const span = 2;
const width = 0.05;
/** Fewest means, and s that they must span, by which a course is known. */
const enough = 8;
const leastSpan = 1;

/** Takes a reading of the undisturbed course (s, bar). */
export function addToLevel(s: LevelBeforeState, time: number, pressure: number): void {
  if (s.count > 0 && time - s.from >= width - 1e-6) {
    s.time.push(s.from + s.sumTime / s.count);
    s.mean.push(s.sum / s.count);
    s.count = 0;
    while (s.time.length > enough && (s.time[0] as number) < time - span) {
      s.time.shift();
      s.mean.shift();
    }
  }
  if (s.count === 0) {
    s.from = time;
    s.sumTime = 0;
    s.sum = 0;
  }
  s.sumTime += time - s.from;
  s.sum += pressure;
  s.count++;
}

export function forgetLevel(s: LevelBeforeState): void {
  s.time.length = 0;
  s.mean.length = 0;
  s.count = 0;
}

/** A straight course: level (bar) at `at` (s), slope (bar/s). */
export interface Course {
  at: number;
  level: number;
  slope: number;
}

/** The course up to `now` (s); `null` where too little was seen or it was not calm: further off a line than `calm` (bar, r.m.s.). */
export function courseBefore({ time, mean }: LevelBeforeState, now: number, calm: number): Course | null {
  const n = time.length;
  if (n < enough || (time[n - 1] as number) - (time[0] as number) < leastSpan || now - (time[n - 1] as number) > 1) return null;
  let t0 = 0, p0 = 0;
  for (let i = 0; i < n; i++) {
    t0 += (time[i] as number) / n;
    p0 += (mean[i] as number) / n;
  }
  let stt = 0, stp = 0;
  for (let i = 0; i < n; i++) {
    const t = (time[i] as number) - t0;
    stt += t * t;
    stp += t * ((mean[i] as number) - p0);
  }
  const slope = stp / stt;
  let rss = 0;
  for (let i = 0; i < n; i++) rss += ((mean[i] as number) - p0 - slope * ((time[i] as number) - t0)) ** 2;
  if (Math.sqrt(rss / (n - 2)) > calm) return null;
  return { at: now, level: p0 + slope * (now - t0), slope };
}

/** bar, on the course at `time` (s). */
export const onCourse = (c: Course, time: number): number => c.level + c.slope * (time - c.at);
