import type { Phase } from '../live.js';
import { addToBin, clearBins, closeBin, highestWithin, lineThrough, type Bin } from './bins.js';
import { burstAt } from './burst-watch.js';
import { contactLag, lastOn, setSwitch, ventShut } from './contacts.js';
import { freshCycle, type CycleRecord } from './cycle-record.js';
import { stepFall } from './fall-watch.js';
import { addToFit, clearFitWindow } from './fit-window.js';
import { HoldPhase } from './hold-phase.js';
import { freshHold, levelSpan } from './hold-watch.js';
import { addFailing } from './failing-watch.js';
import { freshLetDown, restedFor, watchLetDown } from './let-down.js';
import { recordHold } from './record-hold.js';
import { freshRecovery, isRecovery, watchRecovery } from './recovery.js';
import { watchArrival, watchPeak, watchRise } from './rise-watch.js';
import { breakSmallStrokes } from './small-strokes.js';
import { settledAt } from './settling.js';
import { addToSlots, clearSlots, leaveOut, perWindow, slopeBetween } from './slots.js';
import type { SignalScale } from './signal-scale.js';
import { endStroke, stepStroke, strokeOpen } from './stroke-detector.js';
import { freshTracker, type CycleSettings, type CycleSink, type TrackerState } from './tracker-state.js';
import { addVented, forgetVented, giveUpVented, noteVented, takeVented, ventedBeforeRise } from './vented-reading.js';

/** Share of the vented pressure below which a rise that was no test yet is over. */
const backToVented = 0.8;
/** Strokes kept for the look at trapped air. */
const keptStrokes = 400;

/** Follows one pressure signal through its phases. Takes real samples; hands on events and finished cycles. */
export class CycleTracker {
  readonly state = freshTracker();
  private readonly bin: Bin = { time: 0, first: 0, last: 0, mean: 0, lowest: 0, highest: 0, count: 0 };
  private readonly onStroke = (from: number, to: number, rise: number, start: number) => this.stroke(from, to, rise, start);
  private readonly hold: HoldPhase;

  constructor(private readonly set: CycleSettings, private readonly scale: SignalScale, private readonly sink: CycleSink) {
    this.hold = new HoldPhase(this.state, set, scale, sink);
  }

  /** One real sample: s, bar. True when a bin was closed. */
  sample(time: number, pressure: number): boolean {
    const s = this.state;
    const closed = addToBin(s.bins, time, pressure, this.bin);
    if (closed) this.takeBin(this.bin);
    // Just below the height of a stroke there is no fall yet.
    if (pressure >= s.recentHigh - this.set.limits.strokeHeight) {
      s.highAt = time;
      s.sinceHigh = 0;
    } else {
      s.sinceHigh++;
      if (s.attempt) this.lookForBurst(time, pressure);
    }
    return closed;
  }

  /** A silence (or restart) between two samples, s. What was going on cannot be followed across it. */
  gap(from: number, to: number): void {
    const s = this.state;
    this.closeOpenBin();
    endStroke(s.strokes, this.set.limits, this.onStroke);
    const open = s.phase !== 'vented' && s.attempt;
    if (open && s.phase !== 'venting' && !s.hold.done) s.record.gaps.push({ from, to });
    this.hold.lookAgain(from);
    this.hold.close(from);
    s.fall.falling = false;
    s.recentHigh = 0;
    breakSmallStrokes(s.small);
    clearBins(s.bins);
    clearSlots(s.slots);
    forgetVented(this.state);
    s.lastActivity = to;
    s.inBandSince = NaN;
    s.lastQuietKnown = false;
    if (s.phase === 'settling') this.enter('rising', to);
    if (s.phase === 'vented') s.begun = false;
  }

  /** The pump runs or the vent is open (`true`), not so, or no longer known (`null`), from `at` (s) on. */
  contact(which: 'pump' | 'vent', on: boolean | null, at: number): void {
    const s = this.state;
    const { contacts } = s;
    const before = contacts[which].on;
    setSwitch(contacts[which], on, at);
    const level = () => lineThrough(s.bins, at - levelSpan(this.scale.interval), at, at);
    if (which === 'pump') {
      if (on === null) contacts.beforePump = NaN;
      else if (on && before !== null && s.phase === 'holding') contacts.beforePump = level();
      return;
    }
    // The operator's vent: its contact was only read a moment late.
    if (on !== false) contacts.sudden = null;
    if (on === true) contacts.beforeVent = before === null ? NaN : level();
  }

  /** The recording is over. */
  end(): void {
    const s = this.state;
    this.closeOpenBin();
    this.tellSudden(Infinity);
    endStroke(s.strokes, this.set.limits, this.onStroke);
    this.hold.close(s.lastBin);
    if (s.attempt && s.phase !== 'vented') {
      this.endCycle(s.phase === 'venting' && s.record.ended !== 'burst' ? 'vent' : 'end', s.lastBin);
      giveUpVented(s);
    }
    takeVented(s, this.set, this.scale, true);
  }

  /** The transducer shows (s; bar where it gives a number, else NaN) that it measures no pressure. */
  failing(time: number, level: number): void {
    addFailing(this.state.failing, time, level);
  }

  /** It has gone on with that for so long that it will not tell its zero any more: a run whose hold is done is not waited for. */
  failed(): void {
    const s = this.state;
    this.closeOpenBin();
    endStroke(s.strokes, this.set.limits, this.onStroke);
    if (s.attempt && s.phase !== 'vented' && s.hold.done) this.giveUp(s.failing.since);
    else takeVented(s, this.set, this.scale, true);
  }

  /** s for which the pressure has rested above what counts as vented, the hold being over. */
  restedFor(now: number): number {
    return restedFor(this.state, now);
  }

  /** No vent comes after the hold, or none that the transducer shows: the cycle ended at `at` (s) and counts as vented. */
  giveUp(at: number): void {
    const s = this.state;
    this.endCycle(s.phase === 'venting' ? 'vent' : 'emptied', at);
    giveUpVented(s);
    this.toVented(at);
  }

  /** Goes on from a state that another tracker with the same set-up had. */
  restore(state: TrackerState): void {
    Object.assign(this.state, state);
  }

  /** The last cycle's vented reading has been taken (or cannot be had any more). */
  get zeroSettled(): boolean {
    return this.state.awaiting === null;
  }

  /** A pressure that cannot be told from a glitch, or from noise (`inNoise`): it may have been real. */
  doubtful(at: number, pressure: number, inNoise = false): void {
    const r = this.state.record;
    if (this.state.phase === 'vented' || (r.doubtPeak !== null && r.doubtPeak >= pressure)) return;
    r.doubtPeak = pressure;
    r.doubtPeakAt = at;
    r.doubtInNoise = inNoise;
  }

  /** A spike was told: it never starts, stops or delays the hold. */
  spike(at: number, width: number): void {
    const around = Math.max(width, this.set.limits.settleWindow / perWindow);
    leaveOut(this.state.slots, at - around, at + around);
  }

  private closeOpenBin(): void {
    if (closeBin(this.state.bins, this.bin)) this.takeBin(this.bin);
  }

  private enter(phase: Phase, at: number): void {
    this.state.phase = phase;
    this.state.phaseSince = at;
  }

  private takeBin(b: Bin): void {
    const s = this.state;
    const { limits } = this.set;
    const sigma = Math.max(this.scale.sigma / Math.sqrt(Math.max(1, b.count * this.scale.news)), this.scale.resolution * 0.1);
    s.lastBin = b.last;
    s.lastBinMean = b.mean;
    if (s.contacts.sudden !== null) this.tellSudden(b.time);
    stepStroke(s.strokes, limits, b.time, b.mean, sigma, this.onStroke);
    const look = addToSlots(s.slots, limits.settleWindow, b.time, b.mean, b.count);
    if (s.phase === 'vented') {
      this.ventedBin(b, sigma);
      return;
    }
    s.recentHigh = highestWithin(s.bins, b.last, Math.max(limits.burstTime, 1.05 * this.scale.interval) + 0.03);
    watchPeak(s, this.scale, b);
    this.watchFall(sigma, b);
    // A first stroke that stops about there, and settles a little, has not been let down again.
    if (b.mean < (s.attempt || s.phase !== 'rising' ? 1 : backToVented) * limits.ventPressure) {
      this.emptied(b, sigma);
      return;
    }
    watchLetDown(s, this.set, this.scale, b);
    // It may have crept above what counts as vented without a stroke.
    if (!s.attempt) takeVented(s, this.set, this.scale, false);
    switch (s.phase) {
      case 'rising': this.risingBin(b, look); break;
      case 'settling': this.settlingBin(b, look); break;
      case 'holding': this.hold.bin(b, sigma); break;
      case 'venting': watchRecovery(s.recovery, b.mean); break;
    }
  }

  private ventedBin(b: Bin, sigma: number): void {
    const s = this.state;
    const { limits } = this.set;
    if (b.mean <= limits.ventPressure) {
      addVented(s, this.set, this.scale, b, sigma);
      takeVented(s, this.set, this.scale, false);
      return;
    }
    noteVented(s, this.set, this.scale);
    const r = freshCycle();
    s.record = r;
    r.startsPressurised = !s.begun;
    r.rising = s.begun ? (s.lastQuietKnown ? s.lastQuiet : b.first) : null;
    const zero = ventedBeforeRise(s, this.set, sigma);
    r.zeroBefore = Number.isNaN(zero) ? null : zero;
    s.begun = true;
    // A first estimate needs a hundred readings; the rise itself has only just begun to enter it.
    s.noiseBeforeRise = s.ventedBins >= 100 ? s.quietNoise : 0;
    s.ventedBins = 0;
    s.attempt = false;
    s.hold = freshHold();
    s.pending.length = 0;
    clearFitWindow(s.fit);
    s.fall.falling = false;
    s.inBandSince = NaN;
    s.tenthAt = NaN;
    s.lastActivity = b.time;
    this.enter('rising', r.rising ?? b.first);
    for (const { from, to, rise, start } of s.early) this.countStroke(from, to, rise, start);
    s.early.length = 0;
    watchPeak(s, this.scale, b);
    this.risingBin(b, false);
  }

  private watchFall(sigma: number, b: Bin): void {
    const s = this.state;
    const news = stepFall(s.fall, this.set.limits, s.bins, sigma);
    if (news === 'step' || news === 'dismissed') this.stepDown(b, news === 'step');
    if (s.phase === 'venting') return;
    if (news === 'vent') {
      if (s.attempt && !s.hold.done && ventShut(s.contacts, s.fall.onset)) {
        s.contacts.sudden = { record: s.record, at: s.fall.onset, pressure: s.fall.level, to: b.mean, within: b.time - s.fall.onset };
      }
      this.letDown(s.fall.onset, s.fall.level);
    } else if (s.contacts.vent.on === true && s.attempt && lastOn(s.contacts.vent) > (s.record.rising ?? 0) && s.contacts.beforeVent - b.mean > Math.max(this.set.limits.strokeHeight, 6 * sigma)) {
      // However slowly it falls: the vent is open.
      s.fall.falling = false;
      this.letDown(lastOn(s.contacts.vent), s.contacts.beforeVent);
    }
  }

  /** From `from` (bar) the pressure has been let down since `onset` (s). */
  private letDown(onset: number, from: number): void {
    const s = this.state;
    this.hold.closeAt(onset);
    if (s.record.burst === null) s.record.vented = onset;
    this.enterVenting(onset, from);
  }

  private enterVenting(at: number, from: number): void {
    const s = this.state;
    s.recovery = freshRecovery(from);
    s.early.length = 0;
    this.enter('venting', at);
  }

  /** A quick fall with the vent shut all the while is a loss, once the contact has had its time to say otherwise. */
  private tellSudden(now: number): void {
    const { contacts, phase, record: present } = this.state;
    const { sudden } = contacts;
    if (sudden === null || now < sudden.at + sudden.within + contactLag) return;
    contacts.sudden = null;
    const { record, at, pressure, to, within } = sudden;
    // Pumped again at once: nothing came off.
    if (record.burst !== null || (record === present && (phase === 'rising' || phase === 'settling'))) return;
    record.burst = { at, pressure, to, within, unclear: false, ventShut: true };
    record.vented = null;
    record.ended = 'burst';
    this.sink.found({ kind: 'burst', at, height: pressure - to, width: within, pressure });
  }

  /**
   * A quick fall that stopped: water let back, a bleed, or a loss in the hold. Pumping (and quiet) start anew. Right
   * after a stroke there is no level of before to tell it by, so every such fall counts; elsewhere a spike's back does not.
   */
  private stepDown(b: Bin, real: boolean): void {
    const s = this.state;
    const afterStroke = s.phase === 'rising' && s.fall.onset - s.lastActivity < 1.5;
    if (s.phase === 'holding' || !(real || afterStroke)) return;
    s.record.stepBack = { at: s.fall.onset, height: (afterStroke ? s.fall.top : s.fall.before) - b.mean, seconds: b.time - s.fall.onset };
    s.lastActivity = b.time;
    clearFitWindow(s.fit);
    if (s.phase === 'settling') this.enter('rising', b.time);
  }

  private risingBin(b: Bin, look: boolean): void {
    const s = this.state;
    const r = s.record;
    const { limits } = this.set;
    if (!s.attempt && b.mean >= limits.attemptPressure) {
      s.attempt = true;
      takeVented(s, this.set, this.scale, true);
      this.sink.attempt(r.rising ?? b.first);
    }
    watchRise(s, this.set, b);
    watchArrival(s, this.set, b);
    if (b.time > s.lastActivity + 0.3) addToFit(s.fit, b.time, b.mean, b.count);
    if (!r.arrived || strokeOpen(s.strokes) || s.fall.falling || b.last - s.lastActivity < limits.quietTime) return;
    this.enter('settling', s.lastActivity + limits.quietTime);
    if (look) this.lookWhetherSettled(b);
  }

  private settlingBin(b: Bin, look: boolean): void {
    const s = this.state;
    addToFit(s.fit, b.time, b.mean, b.count);
    if (look) this.lookWhetherSettled(b);
  }

  private lookWhetherSettled(b: Bin): void {
    const s = this.state;
    const { limits, floor } = this.set;
    if (strokeOpen(s.strokes) || s.fall.falling) return;
    const by = settledAt(s.slots, limits, s.lastActivity, b.time)
      ?? (b.last >= s.lastActivity + limits.quietTime + limits.settleTimeout ? 'timeout' : null);
    if (by === null) return;
    const level = lineThrough(s.bins, b.time - 1, b.time, b.time);
    const line = slopeBetween(s.slots, b.time - limits.settleWindow, b.time);
    const settled = line === undefined ? level : line.level;
    const step = this.scale.resolution > 0 ? this.scale.resolution : 1e-3;
    if (Math.round(settled / step) * step < floor - 1e-9) {
      s.record.settledBelow ??= { at: b.last, level: settled };
      return;
    }
    s.record.settledBelow = null;
    s.record.settled = b.last;
    s.record.settledBy = by;
    s.record.interval = this.scale.interval;
    this.hold.begin(b.last, by);
    this.enter('holding', b.last);
  }

  private stroke(from: number, to: number, rise: number, start: number): void {
    const s = this.state;
    const { limits } = this.set;
    if (s.phase === 'vented') {
      if (s.early.length < keptStrokes) s.early.push({ from, to, rise, start });
      return;
    }
    if (s.phase === 'venting') {
      if (s.lastBinMean < limits.attemptPressure) return;
      if (s.record.settled !== null && isRecovery(s.recovery, start + rise)) {
        if (from - (s.early.at(-1)?.to ?? from) > limits.quietTime) s.early.length = 0;
        if (s.early.length < keptStrokes) s.early.push({ from, to, rise, start });
        return;
      }
      this.pumpedAgain(s.early[0]?.from ?? from);
      for (const e of s.early) this.countStroke(e.from, e.to, e.rise, e.start);
      s.early.length = 0;
    }
    // On a settled signal noise may look like a small rise: the level after it must really be higher than before.
    if ((s.phase === 'holding' || s.phase === 'settling') && !this.lifted(from, to, rise)) return;
    const r = s.record;
    s.lastActivity = to;
    if (s.phase === 'holding') {
      this.hold.stroke(from, to, rise, start);
      return;
    }
    clearFitWindow(s.fit);
    r.rampNoise = r.rampNoise === null ? this.scale.moving : Math.min(r.rampNoise, this.scale.moving);
    this.countStroke(from, to, rise, start);
    if (s.phase === 'settling') this.enter('rising', from);
  }

  private countStroke(from: number, to: number, rise: number, start: number): void {
    const r = this.state.record;
    takeVented(this.state, this.set, this.scale, true);
    r.strokes++;
    if (r.arrived) r.strokesAfter++;
    r.lastPumping = to;
    if (r.strokeFrom.length < keptStrokes) {
      r.strokeFrom.push(start);
      r.strokeRise.push(rise);
    }
    this.sink.found({ kind: 'stroke', at: from, height: rise, width: to - from, pressure: start + rise });
  }

  private lifted(from: number, to: number, rise: number): boolean {
    const { bins } = this.state;
    const before = lineThrough(bins, from - 1, from, from);
    const after = lineThrough(bins, to, to + 5, to);
    return !(after - before < Math.max(0.5 * rise, 0.8 * this.set.limits.strokeHeight));
  }

  /** The pump works again on a bench that was let down only in part. */
  private pumpedAgain(from: number): void {
    const s = this.state;
    if (s.record.settled === null && s.record.burst === null) {
      s.record.vented = null;
      this.enter('rising', from);
      return;
    }
    this.endCycle(s.record.burst === null ? 'vent' : 'burst', from);
    s.awaiting = null;
    s.record = freshCycle();
    s.record.rising = from;
    s.attempt = true;
    s.hold = freshHold();
    s.pending.length = 0;
    clearFitWindow(s.fit);
    s.inBandSince = NaN;
    this.enter('rising', from);
    this.sink.attempt(from);
  }

  private lookForBurst(time: number, pressure: number): void {
    const s = this.state;
    if (s.phase === 'venting' || s.phase === 'vented' || s.hold.done) return;
    const burst = burstAt(s, this.set.limits, this.scale.interval, time, pressure);
    if (burst === null) return;
    const shut = ventShut(s.contacts, burst.at);
    if (shut || s.contacts.vent.on === true) {
      // The contact knows: a vent at once, and a burst when it has had its time to say otherwise.
      if (shut) s.contacts.sudden = { record: s.record, at: burst.at, pressure: burst.pressure, to: burst.to, within: burst.within };
      this.letDown(burst.at, burst.pressure);
      return;
    }
    this.hold.closeAt(burst.at);
    s.record.burst = burst;
    s.record.ended = 'burst';
    this.sink.found({
      kind: 'burst', at: burst.at, height: burst.pressure - pressure, width: burst.within, pressure: burst.pressure, ...(burst.unclear ? { unclear: true } : {}),
    });
    this.enterVenting(burst.at, burst.pressure);
  }

  private emptied(b: Bin, sigma: number): void {
    const s = this.state;
    // A level at which noise alone makes a bin count as vented has not been left.
    if (!(s.letDown.level - b.mean < this.set.limits.strokeHeight + 6 * sigma)) s.letDown = freshLetDown();
    if (!s.attempt) {
      if (s.awaiting !== null && !Number.isNaN(s.letDown.level)) s.awaiting.letDownTo = s.letDown.level;
      const peak = s.record.peak ?? 0;
      if (peak > s.purgePeak) s.purgePeak = peak;
      this.toVented(b.first);
      return;
    }
    const r = s.record;
    const lastGap = r.gaps[r.gaps.length - 1];
    if (lastGap !== undefined && s.phase !== 'venting' && b.first - lastGap.to < 2) {
      r.lostInGap = { at: lastGap.from, to: b.mean, seconds: lastGap.to - lastGap.from };
      this.endCycle('gap', lastGap.from);
    } else this.endCycle(r.burst !== null ? 'burst' : s.phase === 'venting' ? 'vent' : 'emptied', b.first);
    this.toVented(b.first);
  }

  private toVented(at: number): void {
    const s = this.state;
    this.enter('vented', at);
    s.ventedSince = at;
    s.attempt = false;
    s.lastQuietKnown = false;
    s.letDown = freshLetDown();
    forgetVented(this.state);
  }

  private endCycle(how: NonNullable<CycleRecord['ended']>, at: number): void {
    const s = this.state;
    this.hold.close(at);
    const r = s.record;
    r.ended = r.burst !== null ? 'burst' : how;
    r.endedAt = at;
    if (r.settled !== null) recordHold(r, s.hold, s.fit);
    s.attempt = false;
    s.awaiting = r;
    s.awaitingSince = s.lastBin;
    r.letDownTo = Number.isNaN(s.letDown.level) ? null : s.letDown.level;
    s.letDown = freshLetDown();
    this.sink.cycleEnded(r);
  }
}
