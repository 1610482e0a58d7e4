import { curveSlope, type CurveSlope } from './decay-curve.js';
import { perWindow, slopeBetween, type SettlingState, type Slope } from './slots.js';

export type Settled = 'slope' | 'steady' | null;

export interface SettlingSettings {
  /** s */ readonly settleWindow: number;
  /** bar/s */ readonly settleSlope: number;
}

/**
 * Looks whether settling is over at `now`, the last pumping having ended at `since` (both s): `slope` when it is small
 * in the light of its standard error, `steady` when it no longer changes from one window to the next.
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
 * Is the slope the same as in the window before, or, where the reading is noisy, over two or three windows each? So it is
 * too where the loss has begun to grow.
 */
function isSteady(s: SettlingState, set: SettlingSettings, since: number, now: number): boolean {
  for (let k = 1; k <= 3; k++) {
    const w = k * set.settleWindow;
    if (now - since < 2 * w) return false;
    const late = slopeBetween(s, now - w, now);
    const early = slopeBetween(s, now - 2 * w, now - w);
    if (late === undefined || early === undefined) return false;
    const error = Math.hypot(late.error, early.error);
    if (error > 0.65 * set.settleSlope) continue;
    // A leak through an opening slackens a little as the pressure falls; settling slackens far more from window to window.
    const slope = Math.abs(late.slope);
    // Settling only ever slackens: a loss that plainly grows is a leak, and the hold has to begin for it to be judged.
    if (early.slope < 0 && late.slope < early.slope - Math.max(4 * error, 0.3 * Math.abs(early.slope), 0.3 * set.settleSlope)) return true;
    const allowed = Math.max(2 * error, slope > 2 * set.settleSlope ? 0.03 * k * slope : 0, 0.01 * set.settleSlope);
    if (Math.abs(late.slope - early.slope) > allowed) return false;
    if (slope <= set.settleSlope) return true;
    // Two windows may look alike by chance: a decay through all of them that is still clearly going on is settling.
    const curve = longestCurve(s, set.settleWindow, since, now);
    return curve === undefined || !isSlackening(curve, now - since < 5 * set.settleWindow);
  }
  return false;
}

/** Does the slope slacken by a good part of itself from window to window, or, while the look is `short`, can that not be told? */
function isSlackening({ slope, slackening, slackeningError }: CurveSlope, short: boolean): boolean {
  // A loss that grows is no settling, however uneven.
  const less = slope < 0 ? slackening : -slackening;
  if (less > Math.max(2 * slackeningError, 0.2 * Math.abs(slope))) return true;
  return short && slackeningError > 0.15 * Math.abs(slope);
}

/** Windows through which a decay is drawn, each only as long as the ones before bear it out. */
const spans = [2.5, 3.2, 4, 5, 6];
/** Standard errors of the shorter curve by which a longer one may differ and still count. */
const agreement = 1.2;
const curves: CurveSlope[] = spans.map(() => ({ slope: 0, error: 0, decaying: 0, slackening: 0, slackeningError: 0, tau: 0 }));

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
