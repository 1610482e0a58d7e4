import { Hydraulics, orificeFlow, type AssemblySettings, type FlowLaw } from './hydraulics.js';
import { Outlet } from './outlet.js';
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

/** Room for a run, grown when needed and used again by the next one. */
let calmRoom = new Float64Array(1 << 18);
let lossRoom = new Float64Array(1 << 15);

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
  const { testPressure } = setup;
  const never = Number.POSITIVE_INFINITY;
  const outlet = (flow: number, law: FlowLaw, opening: number, doubling: number) => new Outlet(flow, law, testPressure, opening, doubling);
  const vent = outlet(orificeFlow(testPressure, compliance, setup.vent.fallTime), 'orifice', setup.vent.opening, never);
  const leaks = setup.leaks.map((l) => ({ start: l.start, outlet: outlet((l.rate / 60) * compliance, l.law, l.opening ?? 0, l.doubling ?? never) }));
  const bursts = setup.bursts.map((b) => ({ start: b.start, outlet: outlet(orificeFlow(testPressure, compliance, b.fallTime), 'orifice', b.opening, never) }));
  /** First time that each moment tied to a rising pressure came. */
  const risen = new Map<Moment, number>();
  const timeOf = (moment: Moment): number => (moment.when === 'rise' ? (risen.get(moment) ?? Number.NaN) : operator.timeOf(moment));
  const waitsForRise = [...setup.leaks, ...setup.bursts, ...setup.hammers].map((e) => e.start).filter((m) => m.when === 'rise');

  let calm = calmRoom;
  let lossRate = lossRoom;
  let length = 0;
  let chunks = 0;
  vent.at = -1e9;
  let ventWasOpen = true;
  let burstSince = Number.POSITIVE_INFINITY;

  const move = (time: number, dt: number): void => {
    const p = hydraulics.pressure;
    const inflow = pump.step(time, dt, operator.pumping, p);
    let leakage = 0;
    for (const leak of leaks) leakage += leak.outlet.flowAt(time, p);
    let outflow = leakage + (operator.ventOpen ? vent.flowAt(time, p) : 0);
    for (const burst of bursts) outflow += burst.outlet.flowAt(time, p);
    hydraulics.step(dt, inflow, outflow, leakage);
  };

  while (!operator.done && chunks * coarse < longest) {
    const time = chunks * coarse;
    const p = hydraulics.pressure;
    for (const moment of waitsForRise) {
      if (!risen.has(moment) && operator.pumping && operator.cycle === moment.cycle && p >= moment.pressure) risen.set(moment, time);
    }
    for (const leak of leaks) begin(leak, time, timeOf);
    for (const burst of bursts) if (begin(burst, time, timeOf)) burstSince = Math.min(burstSince, time);
    operator.step(time, p, burstSince);
    const burst = time >= burstSince;
    if (operator.ventOpen && !ventWasOpen) vent.at = time;
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

  calmRoom = calm;
  lossRoom = lossRate;
  calm = calm.slice(0, length);
  const pressure = setup.hammers.length > 0 ? calm.slice() : calm;
  const hammers = setup.hammers.flatMap((hammer) => {
    const start = timeOf(hammer.start);
    return Number.isNaN(start) ? [] : [addPulse(pressure, start, hammer)];
  });
  return {
    pressure, calm, lossRate: lossRate.slice(0, chunks), cycles: operator.cycles, strokes: pump.strokes, hammers, timeOf,
    burstAt: bursts.map((b) => b.outlet.at), leakAt: leaks.map((l) => l.outlet.at),
  };
}

/** Opens an outlet whose moment has come; true at that moment. */
function begin(what: { readonly start: Moment; readonly outlet: Outlet }, time: number, timeOf: (moment: Moment) => number): boolean {
  if (!Number.isNaN(what.outlet.at) || !(timeOf(what.start) <= time)) return false;
  what.outlet.at = time;
  return true;
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
