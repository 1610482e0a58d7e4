import { Hydraulics, orificeFlow, relativeFlow, type AssemblySettings, type FlowLaw } from './hydraulics.js';
import { Operator, vented, type CycleLog, type CycleScript, type Moment } from './operator.js';
import { Pump, type PumpSettings, type Stroke } from './pump.js';
import { SettlingWatch, type SettlingLimits } from './settling-watch.js';

export interface LeakSettings {
  /** bar/min that this leak would cost at the test pressure, at once. */
  readonly rate: number;
  readonly law: FlowLaw;
  readonly start: Moment;
  /** s until fully open. */
  readonly opening?: number;
  /** The flow doubles every so many s. */
  readonly doubling?: number;
}

export interface BurstSettings {
  readonly start: Moment;
  /** s until fully open. */
  readonly opening: number;
  /** s from the test pressure to nothing, once open. */
  readonly fallTime: number;
}

/** A water-hammer pulse, half a sine, on top of the pressure. It really is in the pressure. */
export interface HammerSettings {
  readonly start: Moment;
  /** bar */ readonly height: number;
  /** s */ readonly width: number;
}

/** One run on the bench: what is on it, what the operator does, what goes wrong. */
export interface BenchSetup {
  readonly assembly: AssemblySettings;
  readonly pump: PumpSettings;
  /** s for the valve to open; s from the test pressure to nothing with the valve open. */
  readonly vent: { readonly opening: number; readonly fallTime: number };
  readonly leaks: readonly LeakSettings[];
  readonly bursts: readonly BurstSettings[];
  readonly hammers: readonly HammerSettings[];
  readonly script: readonly CycleScript[];
  /** bar */ readonly testPressure: number;
  /** s */ readonly holdTime: number;
  /** bar that the settled pressure must show for a hold. */ readonly floor: number;
  /** bar from which the test pressure counts as reached. */ readonly reach: number;
  /** s vented at the end. */ readonly tail: number;
  readonly settling: { readonly true: SettlingLimits; readonly early: SettlingLimits; readonly late: SettlingLimits };
}

/** What really happened. Times in s from the start of the recording, pressures in bar. */
export interface BenchRecord {
  /** True pressure every `grid` s, hammer pulses included. */
  readonly pressure: Float64Array;
  /** The same without the pulses. */
  readonly calm: Float64Array;
  /** Pressure rate that leakage alone causes, bar/s, every `coarse` s. */
  readonly lossRate: Float64Array;
  readonly cycles: readonly CycleLog[];
  readonly strokes: readonly Stroke[];
  readonly burstAt: readonly number[];
  readonly leakAt: readonly number[];
  readonly hammers: readonly { readonly at: number; readonly height: number; readonly width: number }[];
  /** When a moment came, NaN if it did not. */
  timeOf(moment: Moment): number;
}

/** s between two true pressures. */
export const grid = 0.001;
/** s between two decisions of the operator and two leak rates. */
export const coarse = 0.01;
const perChunk = 10;
/** s; no run is longer. */
const longest = 7200;

/** Runs the physics step by step: 1 ms while water moves fast, 0.1 ms in a burst, 10 ms while nothing but settling happens. */
export function runBench(setup: BenchSetup): BenchRecord {
  const hydraulics = new Hydraulics(setup.assembly);
  const pump = new Pump(setup.pump);
  const watches = {
    true: new SettlingWatch(setup.settling.true, coarse),
    early: new SettlingWatch(setup.settling.early, coarse),
    late: new SettlingWatch(setup.settling.late, coarse),
  };
  const operator = new Operator(setup.script, setup, pump, watches);
  const compliance = hydraulics.complianceAt(setup.testPressure);
  const ventFlow = orificeFlow(setup.testPressure, compliance, setup.vent.fallTime);
  const leakFlows = setup.leaks.map((leak) => (leak.rate / 60) * compliance);
  const burstFlows = setup.bursts.map((burst) => orificeFlow(setup.testPressure, compliance, burst.fallTime));
  const leakAt = setup.leaks.map(() => Number.NaN);
  const burstAt = setup.bursts.map(() => Number.NaN);
  /** First time that each moment tied to a rising pressure came. */
  const risen = new Map<Moment, number>();
  const timeOf = (moment: Moment): number => (moment.when === 'rise' ? (risen.get(moment) ?? Number.NaN) : operator.timeOf(moment));
  const waitsForRise = [...setup.leaks, ...setup.bursts, ...setup.hammers].map((e) => e.start).filter((m) => m.when === 'rise');

  let calm = new Float64Array(1 << 17);
  let lossRate = new Float64Array(1 << 14);
  let length = 0;
  let chunks = 0;
  let ventOpenSince = -1e9;
  let ventWasOpen = true;
  let burstSince = Number.POSITIVE_INFINITY;

  const leakage = (time: number, pressure: number): number => {
    let total = 0;
    for (let i = 0; i < leakFlows.length; i++) {
      const age = time - (leakAt[i] ?? Number.NaN);
      if (!(age >= 0)) continue;
      const leak = setup.leaks[i];
      if (leak === undefined) continue;
      const open = leak.opening === undefined ? 1 : Math.min(1, age / leak.opening);
      const growth = leak.doubling === undefined ? 1 : 2 ** (age / leak.doubling);
      total += (leakFlows[i] ?? 0) * open * growth * relativeFlow(leak.law, pressure, setup.testPressure);
    }
    return total;
  };
  const bursting = (time: number, pressure: number): number => {
    let total = 0;
    for (let i = 0; i < burstFlows.length; i++) {
      const age = time - (burstAt[i] ?? Number.NaN);
      if (!(age >= 0)) continue;
      total += (burstFlows[i] ?? 0) * Math.min(1, age / (setup.bursts[i]?.opening ?? 1)) * relativeFlow('orifice', pressure, setup.testPressure);
    }
    return total;
  };
  const venting = (time: number, pressure: number): number => {
    if (!operator.ventOpen) return 0;
    return ventFlow * Math.min(1, (time - ventOpenSince) / setup.vent.opening) * relativeFlow('orifice', pressure, setup.testPressure);
  };
  const move = (time: number, dt: number): void => {
    const p = hydraulics.pressure;
    const inflow = pump.step(time, dt, operator.pumping, p);
    const leak = leakage(time, p);
    hydraulics.step(dt, inflow, leak + bursting(time, p) + venting(time, p), leak);
  };

  while (!operator.done && chunks * coarse < longest) {
    const time = chunks * coarse;
    const p = hydraulics.pressure;
    for (const moment of waitsForRise) {
      if (!risen.has(moment) && operator.pumping && operator.cycle === moment.cycle && p >= moment.pressure) risen.set(moment, time);
    }
    for (let i = 0; i < setup.leaks.length; i++) leakAt[i] = begun(leakAt[i], setup.leaks[i]?.start, time, timeOf);
    for (let i = 0; i < setup.bursts.length; i++) {
      burstAt[i] = begun(burstAt[i], setup.bursts[i]?.start, time, timeOf);
      if (!Number.isNaN(burstAt[i])) burstSince = Math.min(burstSince, burstAt[i] ?? time);
    }
    operator.step(time, p, burstSince);
    const burst = time >= burstSince;
    if (operator.ventOpen && !ventWasOpen) ventOpenSince = time;
    ventWasOpen = operator.ventOpen;
    if (!operator.isVenting && !operator.pumping) {
      watches.true.step(time, p);
      watches.early.step(time, p);
      watches.late.step(time, p);
    }

    if (length + perChunk > calm.length) calm = grown(calm);
    if (chunks >= lossRate.length) lossRate = grown(lossRate);
    const quiet = !operator.pumping && !pump.busy && (p <= vented || (!operator.ventOpen && !burst));
    if (quiet) {
      move(time, coarse);
      const slope = (hydraulics.pressure - p) / perChunk;
      for (let i = 0; i < perChunk; i++) calm[length++] = p + slope * i;
    } else {
      const parts = burst && p > 0 ? 10 : 1;
      for (let i = 0; i < perChunk; i++) {
        calm[length++] = hydraulics.pressure;
        for (let j = 0; j < parts; j++) move(time + (i + j / parts) * grid, grid / parts);
      }
    }
    lossRate[chunks++] = hydraulics.lossRate;
  }

  calm = calm.slice(0, length);
  const pressure = setup.hammers.length > 0 ? calm.slice() : calm;
  const hammers = setup.hammers.flatMap((hammer) => {
    const start = timeOf(hammer.start);
    return Number.isNaN(start) ? [] : [addPulse(pressure, start, hammer)];
  });
  return { pressure, calm, lossRate: lossRate.slice(0, chunks), cycles: operator.cycles, strokes: pump.strokes, burstAt, leakAt, hammers, timeOf };
}

function begun(at: number | undefined, start: Moment | undefined, time: number, timeOf: (moment: Moment) => number): number {
  if (start === undefined) return Number.NaN;
  return at !== undefined && !Number.isNaN(at) ? at : timeOf(start) <= time ? time : Number.NaN;
}

function grown(column: Float64Array<ArrayBuffer>): Float64Array<ArrayBuffer> {
  const longer = new Float64Array(column.length * 2);
  longer.set(column);
  return longer;
}

/** Half a sine from `start` on; returns the moment of its top. */
function addPulse(pressure: Float64Array, start: number, pulse: { readonly height: number; readonly width: number }) {
  const from = Math.ceil(start / grid);
  const to = Math.min(pressure.length - 1, Math.floor((start + pulse.width) / grid));
  for (let i = from; i <= to; i++) {
    pressure[i] = (pressure[i] ?? 0) + pulse.height * Math.sin((Math.PI * (i * grid - start)) / pulse.width);
  }
  return { at: start + pulse.width / 2, height: pulse.height, width: pulse.width };
}
