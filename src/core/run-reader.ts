import type { LiveView } from './live.js';
import { judgeRun } from './judging/judge-run.js';
import { bar, seconds, shownStep } from './judging/showing.js';
import type { FoundEvent, Outcome } from './outcome.js';
import { holdFloor, minimumDuringHold, reachLevel, type Plan } from './plan.js';
import type { CycleRecord } from './reading/cycle-record.js';
import { CycleTracker } from './reading/cycle-tracker.js';
import type { ReaderSetup, ReaderSink } from './reading/reader-contract.js';
import { freshRun, type ReaderState } from './reading/reader-state.js';
import { flushGlitch, freshGlitch, stepGlitch, type GlitchSink } from './reading/glitch-filter.js';
import { freshIntake, gapLimit, Stamp, takeStamp } from './reading/intake.js';
import { describeNow } from './reading/live-view.js';
import { freshNoise, learnNoise, learnStep, movingSigma, noiseSigma } from './reading/noise.js';
import { moveRecord } from './reading/move-record.js';
import { freshScale } from './reading/signal-scale.js';
import { signalFacts, toldEvent } from './reading/telling.js';
import { endSpike, freshSpike, stepSpike } from './reading/spike-detector.js';
import { endStillness, freshStillness, pauseVented, stepStillness, stepVented, takeLiveliness } from './reading/stillness.js';
import { suspectUnit } from './reading/suspect-unit.js';
import { standInPlan } from './reading/stand-in-plan.js';
import { readingLimits, type ReadingLimits } from './thresholds.js';
import { Flag, type Mark } from './trace.js';

export type { FinishedRun, ReaderSetup, ReaderSink } from './reading/reader-contract.js';

/** Events kept for a run; more are counted and told in a note. */
const keptEvents = 4000;
/** Doubts of the acquisition kept for a run: the first say enough. */
const keptDoubts = 20;

/**
 * Reads one pressure channel sample by sample: finds runs, cycles and events and judges each run when it is over.
 * The live daemon, `judge` and the pages run this very class. Decisions rest on sample times only.
 */
export class RunReader {
  private readonly plan: Plan;
  private readonly limits: ReadingLimits;
  private readonly tracker: CycleTracker;
  private readonly glitches: GlitchSink;
  private readonly glitchSettings;
  /** bar: the upper end of what the transducer can show. */
  private readonly upperEnd: number;
  /** bar; 0 where it has to be found in the readings. */
  private readonly knownResolution: number;
  /** bar: below this a number is no pressure. */
  private readonly floorOfSense: number;
  private readonly intake = freshIntake();
  private readonly noise = freshNoise();
  private readonly glitch = freshGlitch();
  private readonly spike = freshSpike();
  private readonly still = freshStillness();
  private run = freshRun();
  private missing = 0;
  private lost = false;
  private lastGood = 0;
  private lastSeen = 0;
  /** bar, NaN where the newest reading cannot be trusted. */
  private latest = NaN;
  private saturatedRun = 0;
  private lidWatched = false;
  private lidOpen = false;
  private lastVerdict: Outcome['verdict'] | null = null;
  private recent: FoundEvent[] = [];
  private readonly scale = freshScale();

  constructor(private readonly setup: ReaderSetup, private readonly sink: ReaderSink) {
    this.plan = setup.plan ?? standInPlan(setup.usualPressure ?? (setup.instrument?.range?.upper ?? 200) / 2);
    const { plan } = this;
    this.limits = readingLimits(setup.thresholds, plan.testPressure);
    this.glitchSettings = { glitchWidth: this.limits.glitchWidth, slewLimit: this.limits.slewLimit, reference: plan.testPressure };
    // A gauge cannot read much below vacuum: such a number is a lost signal, not a pressure.
    this.floorOfSense = -Math.max(3, 0.02 * plan.testPressure);
    this.upperEnd = setup.instrument?.range?.upper ?? Number.MAX_VALUE;
    this.knownResolution = setup.instrument?.resolution ?? 0;
    const minimum = minimumDuringHold(plan);
    this.tracker = new CycleTracker({
      limits: this.limits,
      testPressure: plan.testPressure,
      reach: reachLevel(plan),
      floor: holdFloor(plan),
      holdTime: plan.holdTime,
      minimum: minimum === undefined ? NaN : minimum - (setup.instrument?.resolution ?? 0) / 2,
    }, this.scale, {
      found: (event) => this.found(event),
      attempt: (at) => this.attempt(at),
      cycleEnded: (record) => this.cycleEnded(record),
      unpumped: (at, rise) => this.unpumped(at, rise),
    });
    this.glitches = {
      real: (time, pressure, doubt) => this.real(time, pressure, doubt),
      glitch: (at, extreme, height, width, unclear) => {
        if (unclear && height > 0) this.tracker.doubtful(at, extreme);
        this.found({ kind: 'glitch', at, height, width, pressure: extreme, ...(unclear ? { unclear } : {}) });
      },
    };
  }

  /** One reading: time in s, calibrated pressure in bar, `Flag` bits. */
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
      return;
    }
    const before = this.intake.now;
    const stamp = takeStamp(this.intake, time, this.limits.gap);
    if (stamp === Stamp.backward) return;
    const now = this.intake.now;
    if (this.lost || this.intake.gap > 0) this.bridge(before, now);
    this.lastGood = now;
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
    stepGlitch(this.glitch, this.glitchSettings, this.scale, now, pressure, this.glitches);
  }

  mark(mark: Mark): void {
    const at = this.intake.started ? Math.max(0, Math.round((mark.time - this.intake.origin) * 1e6) / 1e6) : 0;
    switch (mark.kind) {
      case 'signal-lost':
      case 'device-restart':
      case 'clock-step':
        if (mark.kind !== 'clock-step') {
          this.lost = this.intake.started;
          // What a contact did meanwhile was not seen.
          this.tracker.contact('pump', null, at);
          this.tracker.contact('vent', null, at);
        }
        if (this.run.open) this.run.notes.push(mark.text ?? `${mark.kind} at ${mark.time.toFixed(1)} s`);
        break;
      case 'lid-open':
        this.lidWatched = true;
        this.lidOpen = true;
        this.lookAtLid(at);
        break;
      case 'lid-closed':
        this.lidWatched = true;
        this.lidOpen = false;
        break;
      case 'doubt':
        if (this.run.open && this.run.doubts.length < keptDoubts) this.run.doubts.push({ at: mark.time, text: mark.text ?? 'The bench was in doubt' });
        break;
      case 'pump-on':
      case 'pump-off':
      case 'pump-unknown':
        this.tracker.contact('pump', mark.kind === 'pump-unknown' ? null : mark.kind === 'pump-on', at);
        break;
      case 'vent-open':
      case 'vent-closed':
      case 'vent-unknown':
        this.tracker.contact('vent', mark.kind === 'vent-unknown' ? null : mark.kind === 'vent-open', at);
        break;
      case 'signal-back':
        break;
    }
  }

  /** The recording is over: what is open is judged as it stands. */
  end(): void {
    this.flush();
    if (this.lastSeen - this.lastGood > gapLimit(this.intake, this.limits.gap)) this.tellGap(this.lastGood, this.lastSeen);
    this.tracker.end();
    if (this.run.open) this.closeRun();
  }

  /** What is known at this moment, for the page and the log. */
  view(): LiveView {
    const running = this.run.open || this.tracker.state.attempt;
    return describeNow({
      plan: this.plan,
      planned: this.setup.plan !== null,
      limits: this.limits,
      tracker: this.tracker.state,
      origin: this.intake.origin,
      time: this.intake.started ? this.lastSeen : null,
      pressure: Number.isNaN(this.latest) ? null : this.latest,
      verdict: running ? 'pending' : this.lastVerdict,
      cycle: Math.min(this.run.cycles.length + (this.tracker.state.attempt ? 1 : 0), this.plan.cycles),
      events: this.recent,
      step: this.shown(),
    });
  }

  /** Everything the reader knows, as plain data of its own: `restore` goes on from it as if nothing had happened. */
  snapshot(): ReaderState {
    const { intake, noise, glitch, spike, still, run, missing, lost, lastGood, lastSeen, latest, saturatedRun } = this;
    const { lidWatched, lidOpen, lastVerdict, recent, scale } = this;
    return structuredClone({
      intake, noise, glitch, spike, still, run, missing, lost, lastGood, lastSeen, latest, saturatedRun,
      lidWatched, lidOpen, lastVerdict, recent, scale, tracker: this.tracker.state,
    });
  }

  /** Takes a snapshot up. It must come from a reader with the same set-up. */
  restore(state: ReaderState): void {
    const { tracker, intake, noise, glitch, spike, still, scale, ...rest } = structuredClone(state);
    Object.assign(this.intake, intake);
    Object.assign(this.noise, noise);
    Object.assign(this.glitch, glitch);
    Object.assign(this.spike, spike);
    Object.assign(this.still, still);
    Object.assign(this.scale, scale);
    Object.assign(this, rest);
    this.tracker.restore(tracker);
  }

  /** Time of the newest good sample on the reader's own clock, and the zero of that clock on the trace's; s. */
  get clock(): { readonly origin: number; readonly now: number } {
    return { origin: this.intake.origin, now: this.intake.now };
  }

  private real(time: number, pressure: number, doubt: boolean): void {
    const { scale, noise } = this;
    learnNoise(noise, pressure);
    scale.resolution = this.knownResolution > 0 ? this.knownResolution : noise.step;
    scale.sigma = noiseSigma(noise, scale.resolution);
    scale.moving = movingSigma(noise);
    const closed = this.tracker.sample(time, pressure);
    if (doubt) this.tracker.doubtful(time, pressure);
    stepSpike(this.spike, this.limits, this.tracker.state.bins, scale, time, pressure, doubt, this.onSpike);
    const { phase, zeroNow } = this.tracker.state;
    if (phase !== 'vented') stepStillness(this.still, time, pressure);
    else if (Math.abs(pressure - zeroNow) < Math.max(4 * scale.resolution, 4 * scale.sigma)) stepVented(this.still, time, pressure, scale.resolution);
    else pauseVented(this.still);
    if (closed) this.afterBin(time);
  }

  private readonly onSpike = (at: number, height: number, width: number, top: number, doubt: boolean): void => {
    this.found({ kind: 'spike', at, height, width, pressure: top, ...(doubt ? { unclear: true } : {}) });
    this.tracker.spike(at, width);
  };

  private afterBin(time: number): void {
    const s = this.tracker.state;
    if (this.lidOpen) this.lookAtLid(time);
    if (!this.run.open || this.run.cycles.length === 0 || s.attempt) return;
    const planned = this.run.cycles.length >= this.plan.cycles || this.run.cycles.some((r) => r.burst !== null);
    const pressurised = s.phase !== 'vented';
    if (planned ? this.tracker.zeroSettled : !pressurised && time - s.ventedSince >= this.limits.runEnd) this.closeRun();
  }

  private attempt(at: number): void {
    if (this.run.open && this.run.cycles.length >= this.plan.cycles) this.closeRun();
    if (this.run.open) return;
    const early = this.run.events.filter((e) => e.at >= this.outside(at) - 1);
    this.run = freshRun();
    this.run.open = true;
    this.run.from = at;
    this.run.events = early;
    this.sink.runStarted(this.outside(at));
  }

  private cycleEnded(record: CycleRecord): void {
    endStillness(this.still);
    record.still = this.still.best;
    this.still.best = null;
    record.lively = takeLiveliness(this.still);
    record.ventedNoise = this.ventedNoise();
    this.run.cycles.push(record);
    this.tellCycle(record);
  }

  private unpumped(at: number, rise: number): void {
    const { notes } = this.run;
    if (notes.length < keptDoubts) notes.push(`The pressure rose by ${bar(rise, this.shown())} at ${seconds(this.outside(at))} while the pump contact was off: not counted as a top-up.`);
  }

  /** Noise while vented: what was learned before the rise, where the vented reading moves at all. */
  private ventedNoise(): number | null {
    const known = this.tracker.state.noiseBeforeRise;
    return known > 0 ? known : null;
  }

  private tellCycle(r: CycleRecord): void {
    const { plan } = this;
    if (r.peak !== null && r.arrived && r.peak > plan.testPressure + this.limits.spikeHeight && r.peakAt !== null && (r.settled === null || r.peakAt < r.settled)) {
      this.found({ kind: 'overshoot', at: r.peakAt, height: r.peak - plan.testPressure, pressure: r.peak });
    }
  }

  private closeRun(): void {
    const { run, plan } = this;
    const { origin } = this.intake;
    const records = run.cycles.map((r) => moveRecord(r, origin));
    const level = records[0]?.holdStart ?? records[0]?.peak ?? 0;
    const known = this.setup.instrument?.resolution ?? (this.noise.step > 0 ? this.noise.step : null);
    const notes = run.dropped > 0 ? [...run.notes, `${run.dropped} more events were counted but not listed.`] : run.notes;
    const outcome = judgeRun(
      {
        plan, limits: this.limits, instrument: this.setup.instrument ?? {}, step: this.shown(), resolution: known, seenStep: this.noise.step,
        noise: movingSigma(this.noise), interval: this.intake.interval, cycles: records,
        suspectedUnit: this.setup.plan === null ? null : suspectUnit(level, plan.testPressure), lidWatched: this.lidWatched, origin, doubts: run.doubts,
      },
      run.events,
      this.facts(known),
      notes,
      this.setup.plan?.plan ?? null,
      this.setup.thresholds.thresholds,
    );
    const last = run.cycles[run.cycles.length - 1];
    this.run = freshRun();
    this.lastVerdict = outcome.verdict;
    this.sink.cyclesRead?.(records, origin);
    this.sink.runEnded({ from: this.outside(run.from), to: this.outside(last?.endedAt ?? this.intake.now), outcome });
  }

  /** What was read, for the outcome. */
  facts(resolution: number | null = this.noise.step > 0 ? this.noise.step : null): Outcome['signal'] {
    return signalFacts(this.intake, this.noise, this.missing, resolution);
  }

  /** Highest purging pressure seen while no run was found, bar. */
  get highestBelowAttempt(): number {
    const s = this.tracker.state;
    return Math.max(s.purgePeak, s.phase === 'vented' ? 0 : (s.record.peak ?? 0));
  }

  /** bar, the step that pressures are shown in. */
  shown(): number {
    return shownStep(this.setup.instrument?.resolution ?? (this.noise.step > 0 ? this.noise.step : null), this.plan.testPressure);
  }

  private found(event: FoundEvent): void {
    const told = toldEvent(event, this.intake.origin);
    if (this.run.events.length >= keptEvents) {
      if (this.run.open) this.run.dropped++;
      else this.run.events.splice(0, keptEvents / 2);
    }
    if (this.run.events.length < keptEvents) this.run.events.push(told);
    this.recent = [...this.recent.slice(-39), told];
    this.sink.found(told);
  }

  /** Ends what cannot be followed across a silence, and notes it. */
  private bridge(before: number, now: number): void {
    this.flush();
    this.lost = false;
    this.tellGap(before, now);
    this.tracker.gap(before, now);
  }

  private tellGap(from: number, to: number): void {
    if (this.tracker.state.attempt || this.run.open) this.found({ kind: 'gap', at: from, width: to - from });
    if (to === this.lastSeen && this.tracker.state.attempt && !this.tracker.state.hold.done) this.tracker.state.record.gaps.push({ from, to });
  }

  private flush(): void {
    flushGlitch(this.glitch, this.glitchSettings, this.scale, this.glitches);
    endSpike(this.spike, this.limits, this.onSpike);
    this.spike.started = false;
    endStillness(this.still);
  }

  private saturated(at: number): void {
    const { record, attempt } = this.tracker.state;
    if (!attempt || record.saturatedAt !== null) return;
    record.saturatedAt = at;
    this.found({ kind: 'saturation', at });
  }

  private lookAtLid(at: number): void {
    const { record, attempt, phase } = this.tracker.state;
    if (!attempt || phase === 'vented' || record.lidOpenAt !== null) return;
    record.lidOpenAt = at;
    this.found({ kind: 'lid-open', at });
  }

  /** The reader's clock on the trace's own. */
  private outside(time: number): number {
    return Number((this.intake.origin + time).toFixed(6));
  }
}
