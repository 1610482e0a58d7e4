import type { WallAnchor } from '../../src/server/bench-feed.js';
import { localFigure } from './figures.js';

const two = (n: number): string => String(n).padStart(2, '0');

/** `0:42`, `12:05`, `1:02:03`: whole seconds, rounded up so that a countdown ends when it says so. */
export function countdown(seconds: number): string {
  const whole = Math.max(Math.ceil(seconds - 1e-6), 0);
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return h > 0 ? `${h}:${two(m)}:${two(s)}` : `${m}:${two(s)}`;
}

/** A duration in words: `0.04 s`, `31 s`, `2 min 5 s`, `1 h 10 min`. */
export function duration(seconds: number): string {
  if (!Number.isFinite(seconds)) return '–';
  // To the microsecond first: what subtracting two stamps leaves over is no duration.
  if (seconds < 10) return `${localFigure(String(Number(Number(seconds.toFixed(6)).toPrecision(2))))} s`;
  const whole = Math.round(seconds);
  if (whole < 120) return `${whole} s`;
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  if (h > 0) return m > 0 ? `${h} h ${m} min` : `${h} h`;
  return s > 0 ? `${m} min ${s} s` : `${m} min`;
}

/** How much later, `+2.5 s`, or earlier, `−2.5 s`; without a sign where it is the same moment. */
export function signedDuration(seconds: number): string {
  const words = duration(Math.abs(seconds));
  return /[1-9]/.test(words) ? `${seconds < 0 ? '−' : '+'}${words}` : words;
}

/** A moment of the trace as the shop's clock showed it. `decimals` of a second: 0 to 3. */
export function clockTime(time: number, anchor: WallAnchor, decimals = 0): string {
  const scale = 10 ** decimals;
  // Down, not to the nearest: a clock shows 08:59:59 until it is nine.
  const at = new Date((Math.floor((anchor.wall / 1000 + time - anchor.time) * scale + 1e-6) / scale) * 1000);
  const hms = `${two(at.getHours())}:${two(at.getMinutes())}:${two(at.getSeconds())}`;
  return decimals === 0 ? hms : `${hms}.${String(at.getMilliseconds()).padStart(3, '0').slice(0, decimals)}`;
}

/** Steps between time labels that people count in, s. */
const steps = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 21_600, 43_200, 86_400];

/**
 * Where the time axis is labelled: whole steps of the shop's clock, at most `most` of them.
 * @returns times on the trace's clock, s, and the decimals that their labels need
 */
export function timeTicks(from: number, to: number, most: number, anchor: WallAnchor): { readonly at: number[]; readonly decimals: number } {
  const step = steps.find((s) => (to - from) / s <= Math.max(most, 1)) ?? 86_400;
  const decimals = step >= 1 ? 0 : Math.min(Math.ceil(-Math.log10(step) - 1e-9), 3);
  // Local midnight, so that steps of an hour and more fall on the shop's hours.
  const shift = anchor.wall / 1000 - anchor.time - new Date(anchor.wall).getTimezoneOffset() * 60;
  const at: number[] = [];
  for (let n = Math.ceil((from + shift) / step - 1e-9); n * step - shift <= to && at.length < 200; n++) at.push(n * step - shift);
  return { at, decimals };
}

/** Day and time of a finished run: `9 Mar 08:30`. */
export function dayTime(wall: number): string {
  const at = new Date(wall);
  const month = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'][at.getMonth()] ?? '';
  return `${at.getDate()} ${month} ${two(at.getHours())}:${two(at.getMinutes())}`;
}
