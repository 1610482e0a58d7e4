import type { LiveView } from './live.js';
import { judgeRun } from './judging/judge-run.js';
import { bar, seconds, shownStep } from './judging/showing.js';
import type { FoundEvent, Outcome } from './outcome.js';
import { holdFloor, minimumDuringHold, reachLevel, type Plan } from './plan.js';
import type { CycleRecord } from './reading/cycle-record.js';
import { CycleTracker } from './reading/cycle-tracker.js';
import { describeNow } from './reading/live-view.js';
import { moveRecord } from './reading/move-record.js';
import type { ReaderSetup, ReaderSink } from './reading/reader-contract.js';
import type { ReaderState } from './reading/reader-state.js';
import { beginRun, freshRun, keepDoubt, keepEvent, keepRemark, notesOf } from './reading/run-state.js';
import { SignalChain } from './reading/signal-chain.js';
import { freshScale } from './reading/signal-scale.js';
import { standInPlan } from './reading/stand-in-plan.js';
import { suspectUnit } from './reading/suspect-unit.js';
import { toldEvent } from './reading/telling.js';
import { readingLimits, type ReadingLimits } from './thresholds.js';
import type { Mark } from './trace.js';

export type { FinishedRun, ReaderSetup, ReaderSink } from './reading/reader-contract.js';

/**
 * Reads one pressure channel sample by sample: finds runs, cycles and events and judges each run when it is over.
 * The live daemon, `judge` and the pages run this very class. Decisions rest on sample times only.
 */
export class RunReader {
  private readonly plan: Plan;
  private readonly limits: ReadingLimits;
  private readonly tracker: CycleTracker;
  private readonly signal: SignalChain;
  private run = freshRun();
  private lidWatched = false;
  private lidOpen = false;
  private lastVerdict: Outcome['verdict'] | null = null;
  private recent: FoundEvent[] = [];

  constructor(private readonly setup: ReaderSetup, private readonly sink: ReaderSink) {
    this.plan = setup.plan ?? standInPlan(setup.usualPressure ?? (setup.instrument?.range?.upper ?? 200) / 2);
    const { plan } = this;
    this.limits = readingLimits(setup.thresholds, plan.testPressure);
    const scale = freshScale();
    const minimum = minimumDuringHold(plan);
    this.tracker = new CycleTracker({
      limits: this.limits,
      testPressure: plan.testPressure,
      reach: reachLevel(plan),
      floor: holdFloor(plan),
      holdTime: plan.holdTime,
      minimum: minimum === undefined ? NaN : minimum - (setup.instrument?.resolution ?? 0) / 2,
    }, scale, {
      found: (event) => this.found(event),
      attempt: (at) => this.attempt(at),
      cycleEnded: (record) => this.cycleEnded(record),
      unpumped: (at, rise) => this.unpumped(at, rise),
    });
    this.signal = new SignalChain({ limits: this.limits, testPressure: plan.testPressure, holdTime: plan.holdTime, instrument: setup.instrument }, scale, this.tracker, {
      found: (event) => this.found(event),
      gap: (from, to) => this.tellGap(from, to),
      zerosWritten: (from, to, count, back) => this.zerosWritten(from, to, count, back),
      binClosed: (time) => this.afterBin(time),
      failed: (time) => this.lookWhetherOver(time),
    });
  }

  /** One reading: time in s, calibrated pressure in bar, `Flag` bits. */
  step(time: number, pressure: number, flags: number): void {
    this.signal.step(time, pressure, flags);
  }

  /** Something that was noticed beside the readings; its time in s on the trace's clock. */
  mark(mark: Mark): void {
    const at = this.signal.timeOf(mark.time);
    switch (mark.kind) {
      case 'signal-lost':
      case 'device-restart':
      case 'clock-step':
        if (mark.kind !== 'clock-step') {
          this.signal.lose();
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
        keepDoubt(this.run, mark.time, mark.text ?? 'The bench was in doubt');
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
    this.signal.end();
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
      origin: this.signal.origin,
      time: this.signal.seen,
      pressure: this.signal.pressure,
      verdict: running ? 'pending' : this.lastVerdict,
      cycle: Math.min(this.run.cycles.length + (this.tracker.state.attempt ? 1 : 0), this.plan.cycles),
      events: this.recent,
      step: this.shown(),
    });
  }

  /** Everything the reader knows, as plain data of its own: `restore` goes on from it as if nothing had happened. */
  snapshot(): ReaderState {
    const { run, lidWatched, lidOpen, lastVerdict, recent } = this;
    // In one piece: the run and the tracker hold the same record of the last cycle.
    return structuredClone({ ...this.signal.state, run, lidWatched, lidOpen, lastVerdict, recent, tracker: this.tracker.state });
  }

  /** Takes a snapshot up. It must come from a reader with the same set-up. */
  restore(state: ReaderState): void {
    const { run, lidWatched, lidOpen, lastVerdict, recent, tracker, ...signal } = structuredClone(state);
    Object.assign(this, { run, lidWatched, lidOpen, lastVerdict, recent });
    this.signal.restore(signal);
    this.tracker.restore(tracker);
  }

  /** Time of the newest good sample on the reader's own clock, and the zero of that clock on the trace's; s. */
  get clock(): { readonly origin: number; readonly now: number } {
    return { origin: this.signal.origin, now: this.signal.now };
  }

  /** What was read, for the outcome. */
  facts(): Outcome['signal'] {
    return this.signal.facts(this.seenStep);
  }

  /** Highest purging pressure seen while no run was found, bar. */
  get highestBelowAttempt(): number {
    const s = this.tracker.state;
    return Math.max(s.purgePeak, s.phase === 'vented' ? 0 : (s.record.peak ?? 0));
  }

  /** bar, the step that pressures are shown in. */
  shown(): number {
    return shownStep(this.resolution, this.plan.testPressure);
  }

  /** bar, as the instrument's papers say or as seen; `null` where neither tells. */
  private get resolution(): number | null {
    return this.setup.instrument?.resolution ?? this.seenStep;
  }

  private get seenStep(): number | null {
    return this.signal.seenStep > 0 ? this.signal.seenStep : null;
  }

  private afterBin(time: number): void {
    const s = this.tracker.state;
    if (this.lidOpen) this.lookAtLid(time);
    // With cycles left a pressure that stays may be pumped up again.
    if (this.run.open && this.run.cycles.length + 1 >= this.plan.cycles && this.tracker.restedFor(time) >= this.limits.runEnd) this.tracker.giveUp(s.letDown.since);
    this.lookWhetherOver(time);
  }

  private lookWhetherOver(time: number): void {
    const s = this.tracker.state;
    if (!this.run.open || this.run.cycles.length === 0 || s.attempt) return;
    const planned = this.run.cycles.length >= this.plan.cycles || this.run.cycles.some((r) => r.burst !== null);
    const pressurised = s.phase !== 'vented';
    if (planned ? this.tracker.zeroSettled : !pressurised && time - s.ventedSince >= this.limits.runEnd) this.closeRun();
  }

  private attempt(at: number): void {
    if (this.run.open && this.run.cycles.length >= this.plan.cycles) this.closeRun();
    if (this.run.open) return;
    this.run = beginRun(this.run, at, this.outside(at) - 1);
    this.sink.runStarted(this.outside(at));
  }

  private cycleEnded(record: CycleRecord): void {
    this.signal.recordStillness(record);
    record.ventedNoise = this.ventedNoise();
    this.run.cycles.push(record);
    this.tellCycle(record);
  }

  private unpumped(at: number, rise: number): void {
    keepRemark(this.run, `The pressure rose by ${bar(rise, this.shown())} at ${seconds(this.outside(at))} while the pump contact was off: not counted as a top-up.`);
  }

  private zerosWritten(from: number, to: number, count: number, back: number): void {
    const when = count === 1 ? `at ${seconds(this.outside(from))}` : `from ${seconds(this.outside(from))} to ${seconds(this.outside(to))}`;
    keepRemark(this.run, `${count === 1 ? 'One reading was' : `${count} readings were`} exactly 0 ${when}, and the pressure was back at ${bar(back, this.shown())} at once: taken for lost readings, not for a loss of pressure.`);
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
    const { run, plan, signal, resolution } = this;
    const { origin } = signal;
    const records = run.cycles.map((r) => moveRecord(r, origin));
    const level = records[0]?.holdStart ?? records[0]?.peak ?? 0;
    const outcome = judgeRun(
      {
        plan, limits: this.limits, instrument: this.setup.instrument ?? {}, step: this.shown(), resolution, seenStep: signal.seenStep,
        noise: signal.movingNoise, interval: signal.interval, cycles: records,
        suspectedUnit: this.setup.plan === null ? null : suspectUnit(level, plan.testPressure), lidWatched: this.lidWatched, origin, doubts: run.doubts,
      },
      run.events,
      signal.facts(resolution),
      notesOf(run),
      this.setup.plan?.plan ?? null,
      this.setup.thresholds.thresholds,
    );
    const last = run.cycles[run.cycles.length - 1];
    this.run = freshRun();
    this.lastVerdict = outcome.verdict;
    this.sink.cyclesRead?.(records, origin);
    this.sink.runEnded({ from: this.outside(run.from), to: this.outside(last?.endedAt ?? signal.now), outcome });
  }

  private found(event: FoundEvent): void {
    const told = toldEvent(event, this.signal.origin);
    keepEvent(this.run, told);
    this.recent = [...this.recent.slice(-39), told];
    this.sink.found(told);
  }

  private tellGap(from: number, to: number): void {
    if (this.tracker.state.attempt || this.run.open) this.found({ kind: 'gap', at: from, width: to - from });
    if (to === this.signal.seen && this.tracker.state.attempt && !this.tracker.state.hold.done) this.tracker.state.record.gaps.push({ from, to });
  }

  private lookAtLid(at: number): void {
    const { record, attempt, phase } = this.tracker.state;
    if (!attempt || phase === 'vented' || record.lidOpenAt !== null) return;
    record.lidOpenAt = at;
    this.found({ kind: 'lid-open', at });
  }

  /** The reader's clock on the trace's own. */
  private outside(time: number): number {
    return Number((this.signal.origin + time).toFixed(6));
  }
}
