import { lineThrough, type BinsState } from './bins.js';
import type { CycleRecord } from './cycle-record.js';

/**
 * Pump and vent contacts beside the signal. They sharpen what the signal tells and are never needed: while a contact is
 * unknown, everything is read from the pressure alone. Times in s, pressures in bar.
 */
export interface ContactsState {
  pump: SwitchState;
  vent: SwitchState;
  /** Pressure when the pump came on during the hold; NaN where it did not. */
  beforePump: number;
  /** Pressure when the vent was opened. */
  beforeVent: number;
  /** A quick fall with the vent shut: the contact may be a moment late, so it is told a little later. */
  sudden: SuddenFall | null;
}

/** A contact: on means that the pump runs, or that the vent is open. */
export interface SwitchState {
  on: boolean | null;
  /** Since when its state is known without a break. */
  knownFrom: number;
  /** The last times that it was on; the last end is infinite while it is. */
  from: number[];
  to: number[];
}

export interface SuddenFall {
  record: CycleRecord;
  at: number;
  pressure: number;
  to: number;
  within: number;
}

const freshSwitch = (): SwitchState => ({ on: null, knownFrom: NaN, from: [], to: [] });
export const freshContacts = (): ContactsState => ({ pump: freshSwitch(), vent: freshSwitch(), beforePump: NaN, beforeVent: NaN, sudden: null });

/** Times on that are kept. */
const kept = 8;
/** s by which a contact may be read earlier or later than the pressure that it explains. */
export const contactLag = 0.5;

/** The contact was read; `null` when it is no longer known. */
export function setSwitch(s: SwitchState, on: boolean | null, at: number): void {
  if (on === s.on) return;
  if (s.on === true) s.to[s.to.length - 1] = at;
  if (on === null) s.knownFrom = NaN;
  else if (s.on === null) s.knownFrom = at;
  if (on === true) {
    s.from.push(at);
    s.to.push(Infinity);
    if (s.from.length > kept) {
      s.from.shift();
      s.to.shift();
    }
  }
  s.on = on;
}

/** True where the contact was on at some moment of [from, to], give or take its lag. */
export const wasOn = ({ from: starts, to: ends }: SwitchState, from: number, to: number): boolean =>
  starts.some((start, i) => start <= to + contactLag && (ends[i] as number) >= from - contactLag);

/** s, when it last came on; NaN where it never did. */
export const lastOn = ({ from }: SwitchState): number => from[from.length - 1] ?? NaN;
/** s, when it last went off; infinite while it is on. */
export const lastOff = ({ to }: SwitchState): number => to[to.length - 1] ?? NaN;

/**
 * What the pump contact says of a rise from `from` to `to` of a cycle that began at `rising`. A contact that did not
 * move while the pressure was pumped up is not believed when it says that the pump was off.
 */
export function pumpDuring({ pump }: ContactsState, from: number, to: number, rising: number | null): 'on' | 'off' | null {
  if (wasOn(pump, from, to)) return 'on';
  const followed = rising !== null && lastOff(pump) >= rising;
  return pump.on === false && pump.knownFrom <= from - contactLag && followed ? 'off' : null;
}

/** True where the vent is known to have been shut since before `at`. */
export const ventShut = ({ vent }: ContactsState, at: number): boolean => vent.on === false && vent.knownFrom <= at && !wasOn(vent, at, at);

/** True while the pump runs, or has only just stopped and what it did is not yet seen. */
export const pumpOpen = ({ pump, beforePump }: ContactsState): boolean => pump.on === true || !Number.isNaN(beforePump);

/**
 * What the pump added while it ran during the hold, however little, once `span` s have passed since; `null` where it is not
 * yet known or nothing is left to tell. `least` is what noise and resolution may look like.
 */
export function pumpedIn(s: ContactsState, bins: BinsState, now: number, span: number, least: number): { from: number; to: number; rise: number; start: number } | null {
  const off = lastOff(s.pump);
  if (Number.isNaN(s.beforePump) || !(now >= off + span)) return null;
  const start = s.beforePump;
  s.beforePump = NaN;
  const rise = lineThrough(bins, off, off + span, off) - start;
  return rise > least ? { from: lastOn(s.pump), to: off, rise, start } : null;
}
