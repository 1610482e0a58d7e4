import type { FoundEvent, Outcome } from '../outcome.js';
import type { ReadingLimits } from '../thresholds.js';
import { Flag, type Instrument } from '../trace.js';
import type { CycleRecord } from './cycle-record.js';
import type { CycleTracker } from './cycle-tracker.js';
import { flushStretch, freshStretch, stepStretch, type StretchSettings, type StretchSink, type StretchState } from './disturbed-stretch.js';
import { failingFor, freshFailing } from './failing-watch.js';
import { flushGlitch, freshGlitch, stepGlitch, type GlitchSettings, type GlitchSink, type GlitchState } from './glitch-filter.js';
import { freshIntake, gapLimit, Stamp, takeStamp, type IntakeState } from './intake.js';
import { freshNoise, isSentAgain, learnNoise, learnStep, movingSigma, noiseSigma, shareOfNews, type NoiseState } from './noise.js';
import type { SignalScale } from './signal-scale.js';
import { endSpike, freshSpike, stepSpike, type SpikeState } from './spike-detector.js';
import { endStillness, freshStillness, pauseVented, stepStillness, stepVented, takeLiveliness, type StillnessState } from './stillness.js';
import { signalFacts } from './telling.js';
import { freshWrittenZero, stepWrittenZero, type WrittenZeroState, type ZeroKnowledge } from './written-zero.js';

export interface SignalSettings {
  readonly limits: ReadingLimits;
  /** bar: what heights are judged against. */
  readonly testPressure: number;
  /** s, as planned. */
  readonly holdTime: number;
  readonly instrument?: Instrument | undefined;
}

/** Hears what the tracker does not. Times in s on the reader's clock. */
export interface SignalSink {
  found(event: FoundEvent): void;
  /** Nothing was heard between two readings; the tracker is told after it. */
  gap(from: number, to: number): void;
  /** `count` readings of exactly 0 were lost ones: the pressure was back at once, at `pressure` (bar). */
  zerosWritten(from: number, to: number, count: number, pressure: number): void;
  /** With the real reading at `time` a bin was closed, and the tracker has looked at it. */
  binClosed(time: number): void;
  /** The transducer has measured no pressure for so long, up to `time`, that the tracker waits for it no longer. */
  failed(time: number): void;
}

/** Flags by which a transducer itself says that it measures no pressure; others may be the line's. */
const transducerSays = Flag.overRange | Flag.underRange | Flag.fault | Flag.implausible;

/** What the stages for single readings know; plain data. */
export interface SignalState {
  readonly intake: IntakeState;
  readonly noise: NoiseState;
  readonly stretch: StretchState;
  readonly glitch: GlitchState;
  readonly spike: SpikeState;
  readonly still: StillnessState;
  readonly scale: SignalScale;
  readonly zeros: WrittenZeroState;
  readonly missing: number;
  readonly lost: boolean;
  readonly lastGood: number;
  readonly lastSeen: number;
  readonly latest: number;
  readonly saturatedRun: number;
}

/** s, and share of the planned hold: so long the signal may be disturbed, and what is left still tells of the rest. */
const longestStretch = 5;
const shareOfHold = 1 / 6;
/** s between readings up to which noise cannot be the pulsation of a pump, seen too seldom. */
const quickEnough = 0.011;

/**
 * The stages that look at every single reading: the clock, readings that are none, gaps, saturation, disturbed stretches, glitches, noise,
 * spikes, stillness. What turns out to be real goes to the tracker. It knows of pressurisations only what the tracker says.
 */
export class SignalChain {
  private readonly limits: ReadingLimits;
  private readonly stretches: StretchSink;
  private readonly stretchSettings: StretchSettings;
  /** s: so much of a hold may be left out. */
  private readonly mostDisturbed: number;
  private readonly glitches: GlitchSink;
  private readonly glitchSettings: GlitchSettings;
  /** bar: the upper end of what the transducer can show. */
  private readonly upperEnd: number;
  /** bar; 0 where it has to be found in the readings. */
  private readonly knownResolution: number;
  /** bar: below this a number is no pressure. */
  private readonly floorOfSense: number;
  private readonly intake = freshIntake();
  private readonly noise = freshNoise();
  private readonly stretch = freshStretch();
  private readonly glitch = freshGlitch();
  private readonly spike = freshSpike();
  private readonly still = freshStillness();
  private readonly zeros = freshWrittenZero();
  private missing = 0;
  private lost = false;
  private lastGood = 0;
  private lastSeen = 0;
  /** bar, NaN where the newest reading cannot be trusted. */
  private latest = NaN;
  private saturatedRun = 0;

  /** @param scale what the tracker works by, kept up to date here */
  constructor({ limits, testPressure, holdTime, instrument }: SignalSettings, private readonly scale: SignalScale, private readonly tracker: CycleTracker, private readonly sink: SignalSink) {
    this.limits = limits;
    this.glitchSettings = { glitchWidth: limits.glitchWidth, slewLimit: limits.slewLimit, reference: testPressure };
    this.mostDisturbed = holdTime * shareOfHold;
    this.stretchSettings = {
      longest: Math.min(longestStretch, this.mostDisturbed), slack: Math.min(limits.strokeHeight, limits.topUpHeight), reference: testPressure,
    };
    // A gauge cannot read much below vacuum: such a number is a lost signal, not a pressure.
    this.floorOfSense = -Math.max(3, 0.02 * testPressure);
    this.upperEnd = instrument?.range?.upper ?? Number.MAX_VALUE;
    this.knownResolution = instrument?.resolution ?? 0;
    this.stretches = {
      pass: (time, pressure) => stepGlitch(this.glitch, this.glitchSettings, this.scale, time, pressure, this.glitches),
      disturbed: this.disturbed,
      lost: this.lostInNoise,
    };
    this.glitches = {
      real: (time, pressure, doubt) => this.real(time, pressure, doubt),
      glitch: (at, extreme, height, width, unclear) => {
        if (unclear && height > 0) this.tracker.doubtful(at, extreme);
        this.sink.found({ kind: 'glitch', at, height, width, pressure: extreme, ...(unclear ? { unclear } : {}) });
      },
    };
  }

  /** One reading: time in s on the trace's clock, calibrated pressure in bar, `Flag` bits. */
  step(time: number, pressure: number, flags: number): void {
    if (!Number.isFinite(time)) {
      this.missing++;
      return;
    }
    const bad = flags !== Flag.good || !Number.isFinite(pressure) || pressure < this.floorOfSense;
    if (bad) {
      this.missing++;
      if (this.tracker.state.phase !== 'vented') this.tracker.state.record.untold++;
      this.latest = NaN;
      if (this.intake.started) this.lastSeen = Math.max(this.lastSeen, Math.round((time - this.intake.origin) * 1e6) / 1e6);
      if ((flags & (Flag.saturated | Flag.overRange)) !== 0) this.saturated(this.lastSeen);
      if (flags === Flag.good ? Number.isFinite(pressure) : (flags & transducerSays) !== 0) {
        this.tracker.failing(this.lastSeen, pressure);
        this.lookAtFailing();
      }
      return;
    }
    switch (stepWrittenZero(this.zeros, this.knownOfZero(), { time, pressure, flags })) {
      case 'hold':
        this.latest = NaN;
        return;
      case 'drop-held':
        this.dropHeld(pressure);
        break;
      case 'let-all-pass':
        this.passHeld();
        break;
      case 'pass':
        break;
    }
    this.take(time, pressure);
  }

  /** A reading that is a number. */
  private take(time: number, pressure: number): void {
    const before = this.intake.now;
    const stamp = takeStamp(this.intake, time, this.limits.gap);
    if (stamp === Stamp.backward) return;
    const now = this.intake.now;
    if (this.lost || this.intake.gap > 0) this.bridge(before, now);
    this.lastGood = now;
    // At the edge of the range noise makes one reading or another good.
    if (now - this.tracker.state.failing.to > gapLimit(this.intake, this.limits.gap)) this.tracker.state.failing = freshFailing();
    if (now > this.lastSeen) this.lastSeen = now;
    this.latest = pressure;
    if (this.tracker.state.phase !== 'vented') this.tracker.state.record.told++;
    // The end of a range may lie within a step of the last number that an instrument can show.
    if (pressure >= this.upperEnd || pressure > this.upperEnd - this.scale.resolution) {
      if (++this.saturatedRun >= 3) this.saturated(now);
    } else this.saturatedRun = 0;
    this.scale.interval = this.intake.interval;
    learnStep(this.noise, pressure);
    if (this.knownResolution === 0) this.scale.resolution = this.noise.step;
    stepStretch(this.stretch, this.stretchSettings, this.scale, now, pressure, this.stretches);
  }

  /** The signal was lost: the next reading is no neighbour of the last, however short the silence. */
  lose(): void {
    this.dropHeld(null);
    this.lost = this.intake.started;
  }

  /** No more readings come: what is held back is decided, and a silence at the end told. */
  end(): void {
    this.passHeld();
    this.flush();
    if (this.lastSeen - this.lastGood > gapLimit(this.intake, this.limits.gap)) this.sink.gap(this.lastGood, this.lastSeen);
  }

  /** Puts into the record of a cycle that is over how still its readings were, and how lively the vented ones before it. */
  recordStillness(record: CycleRecord): void {
    endStillness(this.still);
    record.still = this.still.best;
    this.still.best = null;
    record.lively = takeLiveliness(this.still);
  }

  /** s: zero of the reader's clock on the trace's. */
  get origin(): number {
    return this.intake.origin;
  }

  /** s, time of the newest good reading. */
  get now(): number {
    return this.intake.now;
  }

  /** s, time of the newest reading, good or bad; `null` before the first good one. */
  get seen(): number | null {
    return this.intake.started ? this.lastSeen : null;
  }

  /** bar; `null` where the newest reading cannot be trusted. */
  get pressure(): number | null {
    return Number.isNaN(this.latest) ? null : this.latest;
  }

  /** s, usual spacing of the readings. */
  get interval(): number {
    return this.intake.interval;
  }

  /** bar: the smallest step seen so far, 0 where none was. */
  get seenStep(): number {
    return this.noise.step;
  }

  /** bar: what moves from reading to reading. */
  get movingNoise(): number {
    return movingSigma(this.noise);
  }

  /** s on the reader's clock of a time on the trace's; 0 before the first good reading. */
  timeOf(time: number): number {
    return this.intake.started ? Math.max(0, Math.round((time - this.intake.origin) * 1e6) / 1e6) : 0;
  }

  /** What was read, for the outcome. `resolution` (bar) as known or seen. */
  facts(resolution: number | null): Outcome['signal'] {
    return signalFacts(this.intake, this.noise, this.missing, resolution);
  }

  /** All that the stages know; not a copy. */
  get state(): SignalState {
    const { intake, noise, stretch, glitch, spike, still, scale, zeros, missing, lost, lastGood, lastSeen, latest, saturatedRun } = this;
    return { intake, noise, stretch, glitch, spike, still, scale, zeros, missing, lost, lastGood, lastSeen, latest, saturatedRun };
  }

  /** Goes on from what another chain with the same settings knew. */
  restore({ intake, noise, stretch, glitch, spike, still, scale, zeros, ...rest }: SignalState): void {
    Object.assign(this.intake, intake);
    Object.assign(this.noise, noise);
    Object.assign(this.stretch, stretch);
    Object.assign(this.glitch, glitch);
    Object.assign(this.spike, spike);
    Object.assign(this.still, still);
    Object.assign(this.scale, scale);
    Object.assign(this.zeros, zeros);
    Object.assign(this, rest);
  }

  private knownOfZero(): ZeroKnowledge {
    const { scale, limits, tracker } = this;
    return { high: limits.attemptPressure, moving: scale.moving, resolution: scale.resolution, vented: tracker.state.zeroNow };
  }

  /** The zeros that were held back are what the transducer showed. */
  private passHeld(): void {
    const { held } = this.zeros;
    this.zeros.held = [];
    for (const { time, pressure } of held) this.take(time, pressure);
  }

  /** The zeros that were held back are readings that were lost; `back` is the pressure (bar) that was there at once after them. */
  private dropHeld(back: number | null): void {
    const { held } = this.zeros;
    const [first, last] = [held[0], held[held.length - 1]];
    if (first === undefined || last === undefined) return;
    this.zeros.held = [];
    this.missing += held.length;
    if (this.tracker.state.phase !== 'vented') this.tracker.state.record.untold += held.length;
    if (back !== null) this.sink.zerosWritten(this.timeOf(first.time), this.timeOf(last.time), held.length, back);
  }

  private real(time: number, pressure: number, doubt: boolean): void {
    const { scale, noise } = this;
    learnNoise(noise, pressure);
    scale.resolution = this.knownResolution > 0 ? this.knownResolution : noise.step;
    scale.sigma = noiseSigma(noise, scale.resolution);
    scale.moving = movingSigma(noise);
    scale.news = shareOfNews(noise);
    const closed = this.tracker.sample(time, pressure);
    if (doubt) this.tracker.doubtful(time, pressure);
    stepSpike(this.spike, this.limits, this.tracker.state.bins, scale, time, pressure, doubt, this.onSpike);
    const { phase, zeroNow } = this.tracker.state;
    if (phase !== 'vented') stepStillness(this.still, time, pressure);
    else if (Math.abs(pressure - zeroNow) >= Math.max(4 * scale.resolution, 4 * scale.sigma)) pauseVented(this.still);
    else if (!isSentAgain(noise)) stepVented(this.still, time, pressure, scale.resolution);
    if (closed) this.sink.binClosed(time);
  }

  private readonly onSpike = (at: number, height: number, width: number, top: number, doubt: boolean): void => {
    this.sink.found({ kind: 'spike', at, height, width, pressure: top, ...(doubt ? { unclear: true } : {}) });
    this.tracker.spike(at, width);
  };

  /** A stretch of noise about an unchanged level is told once; when it comes again and again too little of the hold is left. */
  private readonly disturbed: StretchSink['disturbed'] = (from, to, at, height, pressure, highest, scatter) => {
    this.tracker.doubtful(at, highest, true);
    const { record, phase } = this.tracker.state;
    if (phase === 'holding') {
      record.disturbed = (record.disturbed ?? 0) + to - from;
      if (record.disturbed > this.mostDisturbed) record.gaps.push({ from, to, scatter });
    }
    const unclear = this.intake.interval > quickEnough;
    this.sink.found({ kind: 'glitch', at, height, width: to - from, pressure, ...(unclear ? { unclear } : {}), note: 'the signal was disturbed; the level was the same before and after' });
  };

  /** What was read from `from` to `to` (s) tells no pressure: it scattered by `scatter` (bar) for too long. */
  private readonly lostInNoise: StretchSink['lost'] = (from, to, at, height, pressure, highest, scatter) => {
    this.flushFilters();
    const { record } = this.tracker.state;
    const known = record.gaps.length;
    this.tracker.gap(from, to);
    const gap = record.gaps[known];
    if (gap !== undefined) gap.scatter = scatter;
    this.tracker.doubtful(at, highest, true);
    this.sink.found({ kind: 'glitch', at, height, width: to - from, pressure, note: 'the signal was disturbed for so long that the pressure meanwhile is not known' });
  };

  /** Ends what cannot be followed across a silence, and notes it. */
  private bridge(before: number, now: number): void {
    this.flush();
    this.lost = false;
    this.sink.gap(before, now);
    this.tracker.gap(before, now);
  }

  /** A transducer that has failed for so long will not tell the rest of a run; what is held back is older than that. */
  private lookAtFailing(): void {
    if (failingFor(this.tracker.state.failing) < this.limits.runEnd) return;
    this.flush();
    this.tracker.failed();
    this.sink.failed(this.lastSeen);
  }

  private flush(): void {
    flushStretch(this.stretch, this.stretches);
    this.flushFilters();
  }

  private flushFilters(): void {
    flushGlitch(this.glitch, this.glitchSettings, this.scale, this.glitches);
    endSpike(this.spike, this.limits, this.onSpike);
    this.spike.started = false;
    endStillness(this.still);
  }

  private saturated(at: number): void {
    const { record, attempt } = this.tracker.state;
    if (!attempt || record.saturatedAt !== null) return;
    record.saturatedAt = at;
    this.sink.found({ kind: 'saturation', at });
  }
}
