import type { Pump } from './pump.js';
import type { SettlingWatch } from './settling-watch.js';

/** A moment that is known only once the run has come so far. `cycle` counts from 0. */
export type Moment =
  | { readonly when: 'time'; /** s from the start */ readonly time: number }
  | { readonly when: 'rise'; readonly cycle: number; /** bar passed while pumping */ readonly pressure: number }
  | { readonly when: 'stopped'; readonly cycle: number; /** s after the last stroke */ readonly after: number }
  | { readonly when: 'hold'; readonly cycle: number; /** s after the true start of hold */ readonly after: number };

/** Water added after arrival: `after` s, `strokes` of the pump. */
export interface Addition {
  readonly after: number;
  readonly strokes: number;
}

export type VentPlan =
  | { readonly when: 'after-hold'; /** s after the latest moment the hold can be over */ readonly margin: number }
  | { readonly when: 'in-hold'; /** s after the true start of hold */ readonly after: number }
  | { readonly when: 'after-stop'; /** s after the last stroke */ readonly after: number }
  | { readonly when: 'never'; /** s after the true start of hold until the recording ends */ readonly after: number };

/** What the operator does in one cycle. Times in s, pressures in bar. */
export interface CycleScript {
  /** Vented before the first stroke. */
  readonly rest: number;
  /** Pumps until here... */
  readonly target: number;
  /** ...and this many strokes more. */
  readonly extraStrokes?: number;
  readonly pauses?: readonly { readonly pressure: number; readonly seconds: number }[];
  /** Stops pumping after so long, target reached or not. */
  readonly giveUpAfter?: number;
  /** Water added while settling, `after` s since the pump was stopped. */
  readonly retouches?: readonly Addition[];
  /** Water added in the hold, `after` s since its true start. */
  readonly topUps?: readonly Addition[];
  readonly vent: VentPlan;
}

/** What became of a cycle. Times in s; NaN for what did not come. */
export interface CycleLog {
  rising: number;
  /** First water added, last water added. */
  stopped: number;
  settled: number;
  settledBy: 'slope' | 'steady' | 'timeout';
  /** The same under a more lenient and a stricter reading of the definition. */
  settledEarly: number;
  settledLate: number;
  /** A hold could not begin: the band was never reached, or the settled pressure was already below the floor. */
  tooLow: boolean;
  vented: number;
  /** Pressure just before the vent, bar. */
  ventedFrom: number;
  readonly topUps: { readonly at: number; readonly before: number; end: number; after: number }[];
}

export interface Watches {
  readonly true: SettlingWatch;
  readonly early: SettlingWatch;
  readonly late: SettlingWatch;
}

/** bar; below this the open bench is empty. */
export const vented = 0.05;

type Doing = 'resting' | 'pumping' | 'pausing' | 'waiting' | 'adding' | 'venting' | 'done';

/** s after which a hold that cannot begin, or a burst, is given up. */
const patience = 12;

/** The person at the bench, deciding every 10 ms from what really happens. Follows the script, cycle by cycle. */
export class Operator {
  pumping = false;
  ventOpen = true;
  readonly cycles: CycleLog[] = [];

  private doing: Doing = 'resting';
  private since = 0;
  private pumpedFor = 0;
  private strokesWanted = 0;
  private pauseIndex = 0;
  private retouched = 0;
  private pumped = false;
  private highest = 0;

  constructor(
    private readonly script: readonly CycleScript[],
    private readonly setup: { readonly holdTime: number; /** bar */ readonly floor: number; /** bar from which the test pressure counts as reached */ readonly reach: number; /** s vented after the last cycle */ readonly tail: number },
    private readonly pump: Pump,
    private readonly watches: Watches,
  ) {}

  get done(): boolean {
    return this.doing === 'done';
  }

  /** The cycle going on, from 0; during rests the one that comes next. */
  get cycle(): number {
    return this.doing === 'resting' ? this.cycles.length : this.cycles.length - 1;
  }

  get isVenting(): boolean {
    return this.doing === 'venting' || this.doing === 'resting' || this.doing === 'done';
  }

  /** Moment in s, NaN while unknown. `rise` is answered by the bench, which sees the pressure. */
  timeOf(moment: Moment): number {
    if (moment.when === 'time') return moment.time;
    const log = this.cycles[moment.cycle];
    if (log === undefined || moment.when === 'rise') return Number.NaN;
    return (moment.when === 'stopped' ? log.stopped : log.settled) + moment.after;
  }

  /** Decides at `time` (s) from the pressure (bar) and when a burst happened (s, Infinity for none). */
  step(time: number, pressure: number, burstAt: number): void {
    const log = this.cycles.at(-1);
    const script = this.script[this.cycle];
    if (pressure > this.highest) this.highest = pressure;
    switch (this.doing) {
      case 'resting':
        if (script === undefined) {
          if (time - this.since >= this.setup.tail) this.turnTo('done', time);
        } else if (time - this.since >= script.rest) this.beginCycle(time);
        return;
      case 'pumping':
        if (script !== undefined && log !== undefined) this.pumpOn(time, pressure, script, log, time - burstAt);
        return;
      case 'pausing': {
        const pause = script?.pauses?.[this.pauseIndex];
        if (pause === undefined || time - this.since >= pause.seconds) {
          this.pauseIndex++;
          this.turnTo('pumping', time);
        }
        return;
      }
      case 'adding':
        if (this.pump.completed >= this.strokesWanted) this.stopAdding(time, pressure);
        return;
      case 'waiting':
        if (script !== undefined && log !== undefined) this.wait(time, pressure, script, log, time - burstAt);
        return;
      case 'venting':
        if (pressure <= vented) this.turnTo('resting', time);
        return;
      case 'done':
        return;
    }
  }

  private turnTo(doing: Doing, time: number): void {
    this.doing = doing;
    this.since = time;
    this.pumping = doing === 'pumping' || doing === 'adding';
    this.ventOpen = doing === 'venting' || doing === 'resting' || doing === 'done';
  }

  private beginCycle(time: number): void {
    const nan = Number.NaN;
    this.cycles.push({
      rising: nan, stopped: nan, settled: nan, settledBy: 'slope', settledEarly: nan, settledLate: nan,
      tooLow: false, vented: nan, ventedFrom: nan, topUps: [],
    });
    this.pumpedFor = time;
    this.strokesWanted = Number.NaN;
    this.pauseIndex = 0;
    this.retouched = 0;
    this.pumped = false;
    this.highest = 0;
    this.turnTo('pumping', time);
  }

  private pumpOn(time: number, pressure: number, script: CycleScript, log: CycleLog, sinceBurst: number): void {
    if (Number.isNaN(log.rising) && pressure > 0.05) log.rising = this.pump.strokes.at(-1)?.start ?? time;
    const pause = script.pauses?.[this.pauseIndex];
    if (pause !== undefined && pressure >= pause.pressure) return this.turnTo('pausing', time);
    if (pressure >= script.target && Number.isNaN(this.strokesWanted)) this.strokesWanted = this.pump.completed + (script.extraStrokes ?? 0);
    const arrived = this.pump.completed >= this.strokesWanted && pressure >= script.target;
    // After a burst the pump runs on for a moment until somebody shuts the air off.
    const shutOff = sinceBurst > 1;
    if (arrived || shutOff || time - this.pumpedFor > (script.giveUpAfter ?? 600)) this.stopPumping(time, log);
  }

  private stopPumping(time: number, log: CycleLog): void {
    this.pumped = true;
    this.turnTo('waiting', time);
    log.stopped = time;
    this.watches.true.restart(time);
    this.watches.early.restart(time);
    this.watches.late.restart(time);
  }

  private stopAdding(time: number, pressure: number): void {
    const log = this.cycles.at(-1);
    if (log === undefined) return;
    if (Number.isNaN(log.settled)) return this.stopPumping(time, log);
    const added = log.topUps.at(-1);
    if (added !== undefined) {
      added.end = time;
      added.after = pressure;
    }
    this.turnTo('waiting', time);
  }

  private wait(time: number, pressure: number, script: CycleScript, log: CycleLog, sinceBurst: number): void {
    if (sinceBurst > patience / 3) return this.openVent(time, pressure, log);
    this.noteSettling(log, pressure);
    const retouch = script.retouches?.[this.retouched];
    if (retouch !== undefined && Number.isNaN(log.settled) && time - this.since >= retouch.after) {
      this.retouched++;
      return this.add(time, retouch.strokes);
    }
    const topUp = script.topUps?.[log.topUps.length];
    if (topUp !== undefined && time - log.settled >= topUp.after) {
      log.topUps.push({ at: time, before: pressure, end: time, after: pressure });
      return this.add(time, topUp.strokes);
    }
    if (this.isOver(time, script.vent, log)) {
      if (script.vent.when === 'never') this.turnTo('done', time);
      else this.openVent(time, pressure, log);
    }
  }

  private add(time: number, strokes: number): void {
    this.strokesWanted = this.pump.completed + strokes;
    this.turnTo('adding', time);
  }

  private noteSettling(log: CycleLog, pressure: number): void {
    const { true: exact, early, late } = this.watches;
    if (Number.isNaN(log.settled) && !Number.isNaN(exact.settled)) {
      log.settled = exact.settled;
      log.settledBy = exact.by;
      log.tooLow = pressure < this.setup.floor || this.highest < this.setup.reach;
    }
    log.settledEarly = early.settled;
    log.settledLate = late.settled;
  }

  private isOver(time: number, vent: VentPlan, log: CycleLog): boolean {
    if (!this.pumped) return false;
    switch (vent.when) {
      case 'after-stop':
        return time - log.stopped >= vent.after;
      case 'in-hold':
      case 'never':
        return time - log.settled >= vent.after;
      case 'after-hold':
        if (log.tooLow) return time - log.settled >= patience;
        return time - Math.max(log.settled, log.settledLate) >= this.setup.holdTime + vent.margin;
    }
  }

  private openVent(time: number, pressure: number, log: CycleLog): void {
    log.vented = time;
    log.ventedFrom = pressure;
    this.turnTo('venting', time);
  }
}
