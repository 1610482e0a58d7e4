/**
 * What a settling too slow to be seen takes off the leak. Where one exponential was too few for the whole window, the
 * hose and the water settle with many time constants (heat, creep), and the slowest of them runs on in the last part of
 * the window, nearly straight: it would be counted as leak. Its size is not known, but bounded by what has been seen:
 * creep of polymers goes about with the logarithm of time (common practice; a spectrum of time constants that is even
 * over their logarithm), so about as much settles in each e-fold of time as in the ones before.
 *
 * The slope is averaged over courses of two exponentials, the slower of which falls and is normal with that size as
 * standard deviation (half of the bell: it cannot rise). The pressures themselves say how much of it there may be: a
 * slow settling that were large would bend the course.
 */
import type { ProfilePoint } from './decay-profile.js';
import type { FitWindow } from './fit-window.js';
import { scanLog } from './log-scan.js';
import { type Answer, quickNormalCdf, SlopeAnswers } from './slope-answers.js';

/** Time constants of the quicker exponential that are tried at first, and of the slower one for each of them. */
const quickSteps = 12;
const slowSteps = 12;

/** The slower one is at least this many times as slow, and up to this many times the slowest that counts as seen. */
const apart = 1.3;
const slowest = 2.5;

/** One time constant of the quicker exponential, with the answers that go with it. */
interface Course {
  /** Least penalised sum of squares, bar^2. */ readonly rss: number;
  readonly answers: readonly Answer[];
}

/**
 * @param window the last part, where one exponential is enough; its whitener has the shape of the noise
 * @param variance of the whitened errors, bar^2
 * @param amplitude bar that settle in an e-fold of time, > 0
 */
export function withSlowerSettling(window: FitWindow, variance: number, amplitude: number): SlopeAnswers {
  const low = Math.log(window.tauMin);
  const end = Math.log(slowest * window.tauMax);
  const high = Math.min(end - 2 * Math.log(apart), Math.log(Math.max(window.span, 2 * window.tauMin)));
  const courses = scanLog((x) => courseOf(window, x, end, variance, amplitude), low, high, quickSteps, variance);
  return new SlopeAnswers(courses.flatMap(({ found, share }) => found.answers.map((answer) => ({ ...answer, logWeight: answer.logWeight + Math.log(share) }))));
}

/** One quicker exponential (exp x seconds) alone and, with even odds, beside all slower ones. */
function courseOf(window: FitWindow, x: number, end: number, variance: number, amplitude: number): Course {
  const profile = window.profile([window.ones, window.exponential(Math.exp(x)), window.time]);
  const from = x + Math.log(apart);
  const { slopeAlone, slopeScale, rssAlone } = profile;
  const answers: Answer[] = [{ mean: slopeAlone, deviation: Math.sqrt(variance) * slopeScale, logWeight: (-0.5 * rssAlone) / variance }];
  let rss = rssAlone;
  for (let j = 0; j <= slowSteps; j++) {
    const point = profile.at(Math.exp(from + (j * (end - from)) / slowSteps));
    const answer = answerOf(point, profile, variance, amplitude);
    if (answer === null) continue;
    const share = (j === 0 || j === slowSteps ? 0.5 : 1) / slowSteps;
    answers.push({ ...answer, logWeight: answer.logWeight + Math.log(share) });
    rss = Math.min(rss, answer.rss);
  }
  return { rss, answers };
}

/** The slope beside a slower exponential whose amplitude is above 0 and about as large as `amplitude`; `null` where it cannot be. */
function answerOf(
  { amplitude: free, information, overlap }: ProfilePoint,
  { slopeAlone, slopeScale, rssAlone }: { readonly slopeAlone: number; readonly slopeScale: number; readonly rssAlone: number },
  variance: number,
  amplitude: number,
): (Answer & { readonly rss: number }) | null {
  const expected = variance / amplitude ** 2;
  const known = information + expected;
  const mean = (free * information) / known;
  const deviation = Math.sqrt(variance / known);
  const z = mean / deviation;
  const possible = quickNormalCdf(z);
  if (!(possible > 1e-5)) return null;
  // Mean and variance of a normal distribution cut off below 0 (Johnson, Kotz, Balakrishnan, 1994, section 13.10).
  const hazard = (0.3989422804014327 * Math.exp(-0.5 * z * z)) / possible;
  const cut = mean + deviation * hazard;
  const cutDeviation = deviation * Math.sqrt(Math.max(0, 1 - hazard * (hazard + z)));
  const rss = rssAlone - free * information * mean;
  return {
    mean: slopeAlone - cut * overlap * slopeScale,
    deviation: slopeScale * Math.hypot(Math.sqrt(variance), cutDeviation * overlap),
    logWeight: (-0.5 * rss) / variance + 0.5 * Math.log(expected / known) + Math.log(2 * possible),
    rss: mean > 0 ? rss : rssAlone,
  };
}
