import { curveSlope, type CurveSlope } from './decay-curve.js';
import { perWindow, slopeBetween, type SettlingState, type Slope } from './slots.js';

export type Settled = 'slope' | 'steady' | null;

export interface SettlingSettings {
  /** s */ readonly settleWindow: number;
  /** bar/s */ readonly settleSlope: number;
}

/**
 * Looks whether settling is over at `now`, the last pumping having ended at `since` (both s): `slope` when it is small
 * in the light of its standard error, `steady` when it surely no longer changes from one window to the next.
 */
export function settledAt(s: SettlingState, set: SettlingSettings, since: number, now: number): Settled {
  const w = set.settleWindow;
  const slack = w / perWindow;
  for (let k = 1; k <= 3; k++) {
    // A noisy reading needs a longer look: up to three windows, as far as there was no pumping in them.
    if (k > 1 && now - since < k * w) break;
    const line = slopeBetween(s, Math.max(now - k * w, since - slack), now);
    if (line === undefined) break;
    const longest = k === 3 || now - since < (k + 1) * w;
    if (line.error > (longest && k > 1 ? 1 : 0.4) * set.settleSlope) continue;
    if (isSmall(s, set, since, now, line)) return 'slope';
    break;
  }
  return isSteady(s, set, since, now) ? 'steady' : null;
}

/**
 * Share of itself by which the slope of a leak may slacken from one window to the next: an opening gives less as the
 * pressure falls, and a little settling may be left in it.
 */
const slackens = 0.04;
/** What that share must surely be below: half of that of a slope which halves each minute. */
const surelyBelow = 0.06;
/** Standard errors, 95 % to one side. */
const surely = 1.64;
/** Windows that the two stretches may be long each: as far as the slots reach. */
const longest = 6;

/**
 * Is the slope the same as in the window before, and is that sure? A noisy reading shows no change for want of knowing
 * better, and creep would pass for a leak the sooner the noisier it is: where noise hides the change, longer stretches are
 * compared. A creep that goes with the logarithm of time slackens by 10 / (time in s - 15) from one window of 10 s to the
 * next, and by a larger share over longer ones. Steady it is too where the loss has begun to grow.
 */
function isSteady(s: SettlingState, set: SettlingSettings, since: number, now: number): boolean {
  for (let k = 1; k <= longest; k++) {
    const w = k * set.settleWindow;
    if (now - since < 2 * w) return false;
    const late = slopeBetween(s, now - w, now);
    const early = slopeBetween(s, now - 2 * w, now - w);
    if (late === undefined || early === undefined) return false;
    const error = Math.hypot(late.error, early.error);
    // Settling only ever slackens: a loss that plainly grows is a leak, and the hold has to begin for it to be judged.
    const plainly = Math.max(4 * error, 0.3 * Math.abs(early.slope), 0.3 * set.settleSlope);
    if (error <= 0.65 * set.settleSlope && early.slope < 0 && late.slope < early.slope - plainly) return true;
    const change = Math.abs(late.slope - early.slope);
    const unit = k * Math.max(Math.abs(late.slope), set.settleSlope);
    if (change - 2 * error > slackens * unit) return false;
    if (change <= slackens * unit && change + surely * error <= surelyBelow * unit) return true;
  }
  return false;
}

/** Windows through which a decay is drawn, each only as long as the ones before bear it out. */
const spans = [2.5, 3.2, 4, 5, 6];
/** Standard errors of the shorter curve by which a longer one may differ and still count. */
const agreement = 1.2;
const curves: CurveSlope[] = spans.map(() => ({ slope: 0, error: 0, decaying: 0, tau: 0 }));

/**
 * Is the slope over the last window within the limit? Far from the limit the line itself says so; near it a decay is
 * drawn through all that followed the last pumping, because noise in one window alone moves the moment by seconds.
 */
function isSmall(s: SettlingState, set: SettlingSettings, since: number, now: number, line: Slope): boolean {
  const limit = set.settleSlope;
  if (Math.abs(line.slope) > 2 * limit || (s.reckonedFrom === since && now < s.nextCurve)) return false;
  const curve = longestCurve(s, set.settleWindow, since, now, limit);
  if (curve === undefined) return Math.abs(line.slope) <= limit;
  if (Math.abs(curve.slope) <= limit) return true;
  s.reckonedFrom = since;
  s.nextCurve = now + Math.min(0.2 * timeTo(limit, curve), 0.1 * set.settleWindow);
  return false;
}

/** s until the slope of a curve is down to `limit` (bar/s); endless where what does not decay is above it. */
function timeTo(limit: number, { slope, decaying, tau }: CurveSlope): number {
  const way = slope < 0 ? -1 : 1;
  const left = limit - way * (slope - decaying);
  return left > 0 && way * decaying > left ? tau * Math.log((way * decaying) / left) : Infinity;
}

/**
 * The decay through as many windows as agree: one time constant describes a short stretch always and a long one
 * seldom, while the long one is the surer where it does. A longer curve counts as long as its slope stays within the
 * error of the shorter ones. One that is surely above `limit` (bar/s) needs no longer one.
 */
function longestCurve(s: SettlingState, window: number, since: number, now: number, limit = Infinity): CurveSlope | undefined {
  let chosen: CurveSlope | undefined;
  for (let k = 0; k < spans.length; k++) {
    const span = (spans[k] as number) * window;
    if (k > 0 && now - since - 1 < (spans[k - 1] as number) * window) break;
    const curve = curves[k] as CurveSlope;
    if (now - since - 1 < window || !curveSlope(s, Math.max(now - span, since + 1), now, window, curve)) break;
    if (chosen !== undefined && Math.abs(curve.slope - chosen.slope) > agreement * chosen.error) break;
    chosen = curve;
    if (Math.abs(curve.slope) - 3 * curve.error > limit) break;
  }
  return chosen;
}
