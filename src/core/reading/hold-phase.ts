import { lineThrough, type Bin } from './bins.js';
import { contactLag, lastOn, pumpDuring, pumpedIn, pumpOpen } from './contacts.js';
import type { CycleRecord } from './cycle-record.js';
import { lowerFrom } from './fit-window.js';
import { consumeHold } from './hold-queue.js';
import { beginHold, levelSpan, noteTopUp } from './hold-watch.js';
import { addedBy, riseIsOver, watchRiseInHold } from './rise-in-hold.js';
import { lookAgainAtStart, secondLook } from './second-look.js';
import type { SignalScale } from './signal-scale.js';
import { freshSmallStrokes, stepSmallStrokes } from './small-strokes.js';
import { strokeOpen } from './stroke-detector.js';
import type { CycleSettings, CycleSink, TrackerState } from './tracker-state.js';

/** s by which the hold lags behind, so that the start of a fall can still be taken back. */
const lag = 0.5;
/** s for which an open vent is waited for to show in the pressure. */
const ventWait = 10;
/** Standard errors of a level that a small rise must exceed. */
const surely = 10;
/** s by which a rise in the hold is waited for longer while the pressure falls. */
const returnWait = 2;
/** s before a rise in the hold by which a dip has begun at the latest, and from which on the level before it is taken. */
const longestDip = 0.8;
const beforeDip = 3;

/**
 * The hold as it goes on: which rises were pumped in, when it really began, what of it is counted already. Works on the
 * tracker's state.
 */
export class HoldPhase {
  constructor(private readonly state: TrackerState, private readonly set: CycleSettings, private readonly scale: SignalScale, private readonly sink: CycleSink) {}

  /** Settled at `at` (s), as `by` says. */
  begin(at: number, by: NonNullable<CycleRecord['settledBy']>): void {
    const s = this.state;
    const { holdTime, minimum, limits: { breachTime } } = this.set;
    beginHold(s.hold, { holdTime, breachTime, minimum }, at);
    s.opening = by === 'timeout' ? null : { since: s.lastActivity, bins: [] };
    s.small = freshSmallStrokes();
  }

  /** One bin, with the noise of its mean (bar). */
  bin(b: Bin, sigma: number): void {
    const s = this.state;
    if (!s.hold.active) return;
    s.pending.push({ ...b });
    if (pumpOpen(s.contacts)) this.lookAtPump(b);
    this.watchRise(b.last);
    this.lookForSmallStrokes(b, sigma);
    // Pressure that rises or falls for reasons still unknown waits; the bound only guards against a pump left running.
    if (s.fall.falling || ((strokeOpen(s.strokes) || pumpOpen(s.contacts)) && s.pending.length < 2000)) return;
    const opened = s.contacts.vent.on === true ? lastOn(s.contacts.vent) : NaN;
    const now = Math.min(b.last - lag, s.rise?.from ?? Infinity);
    this.consumeUntil(b.last - opened < ventWait ? Math.min(opened, now) : now);
    if (b.last >= s.hold.from + secondLook(this.set)) this.lookAgain(b.last);
  }

  /** Nothing that comes from `at` (s) on tells any more of when the hold began. */
  lookAgain(at: number): void {
    if (this.state.opening !== null) lookAgainAtStart(this.state, this.set, this.scale, at);
  }

  /** The pump ran during the hold: what it added counts, however little. */
  private lookAtPump(b: Bin): void {
    const s = this.state;
    const span = levelSpan(this.scale.interval);
    const { sigma, resolution, interval } = this.scale;
    const added = pumpedIn(s.contacts, s.bins, b.last, span, Math.max(resolution, (surely * sigma) / Math.sqrt(Math.max(2, span / interval))));
    if (added === null || s.record.topUps.some(({ at }) => at >= added.from - contactLag)) return;
    this.topUp(added.from, added.to, added.rise, added.start);
  }

  /** Strokes that are too small each, where no contact tells of the pump. */
  private lookForSmallStrokes(b: Bin, sigma: number): void {
    const s = this.state;
    if (s.contacts.pump.on !== null) return;
    for (const { from, to, rise, start } of stepSmallStrokes(s.small, this.set.limits, b.time, b.mean, sigma, this.scale.resolution)) {
      lowerFrom(s.fit, to, rise);
      this.topUp(from, to, rise, start);
    }
  }

  /** A rise during the hold whose end is not known yet. */
  private watchRise(now: number): void {
    const s = this.state;
    if (s.rise === null) return;
    s.rise = watchRiseInHold(s.rise, s.bins, now);
    const { interval } = this.scale;
    // What is still falling may go back further, but a rise is not waited for without end.
    if (riseIsOver(s.rise, s.fall.falling ? now - returnWait : now, interval)) this.tellRise(now);
  }

  /**
   * Says what a rise during the hold was, as seen until `at` (s). Only one may go back and be nothing: a pump that keeps up
   * with a leak makes a rise each time it is lost.
   */
  private tellRise(at: number): void {
    const s = this.state;
    if (s.rise === null) return;
    const { from, to, rise, start } = s.rise;
    const added = addedBy(s.rise, s.bins, at, this.scale.interval, this.set.limits.topUpHeight);
    s.rise = null;
    if (added > 0 || s.hold.returned !== null) {
      this.topUp(from, to, added > 0 ? added : rise, start);
      return;
    }
    s.hold.returned = { from, to: at };
    this.sink.found({ kind: 'stroke', at: from, height: rise, width: to - from, pressure: start + rise });
  }

  private topUp(from: number, to: number, rise: number, start: number): void {
    this.lookAgain(from);
    noteTopUp(this.state.hold, from, to, rise);
    this.state.record.topUps.push({ at: from, rise });
    this.sink.found({ kind: 'top-up', at: from, height: rise, width: to - from, pressure: start + rise });
  }

  /** The hold is over, or cannot be followed further than `at` (s): what waits is taken in. */
  close(at: number): void {
    this.tellRise(at);
    this.consumeUntil(this.state.fall.falling ? this.state.fall.onset : Number.MAX_VALUE);
    this.state.pending.length = 0;
  }

  /** What came from `at` (s) on was something else than the hold: a vent, a burst. */
  closeAt(at: number): void {
    this.lookAgain(at);
    this.tellRise(at);
    this.consumeUntil(at);
    this.state.pending.length = 0;
  }

  /** A rise like a stroke, seen to its end (s, s, bar, bar). */
  stroke(from: number, to: number, rise: number, start: number): void {
    const s = this.state;
    this.lookAgain(from);
    this.tellRise(from);
    const pump = pumpDuring(s.contacts, from, to, s.record.rising);
    if (s.hold.done || (pump !== 'on' && (rise < this.set.limits.topUpHeight || this.cameBack(from, start, rise)))) return;
    if (pump === 'off') this.sink.unpumped(from, rise);
    else if (pump === 'on') this.topUp(from, to, rise, start);
    else s.rise = { from, to, rise, start, lasting: NaN };
  }

  private consumeUntil(time: number): void {
    const breach = consumeHold(this.state, this.set, this.scale, time);
    if (breach !== null) this.sink.found(breach);
  }

  /** A short dip ends with a rise that adds nothing: the pressure is where it was before. */
  private cameBack(from: number, start: number, rise: number): boolean {
    const before = lineThrough(this.state.bins, from - beforeDip, from - longestDip, from);
    return before - start > 0.6 * rise && start + rise - before < this.set.limits.topUpHeight;
  }
}
