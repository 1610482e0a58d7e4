import { waterAt, type WaterTable } from './water.js';

/** A creeping part of the hose wall (Kelvin-Voigt element): stretches late and comes back late. */
export interface Creep {
  /** ml/bar that the element gives in the end. */
  readonly compliance: number;
  /** s */
  readonly timeConstant: number;
}

/** Everything behind the valve: hoses and manifold full of water. */
export interface AssemblySettings {
  /** ml of water at zero gauge pressure, > 0. */
  readonly volume: number;
  /** ml/bar that hoses and manifold widen at once (elastic). */
  readonly expansion: number;
  readonly creep: readonly Creep[];
  /** ml of trapped air at atmospheric pressure. */
  readonly air: number;
  /** s; slowest time constant of the water's cooling to the wall, see `coolingTime`. */
  readonly cooling: number;
  /** degC of water and surroundings, 10 to 40. */
  readonly temperature: number;
}

/** bar absolute at zero gauge pressure. */
export const atmosphere = 1.01325;

/** First zeros of the Bessel function J0, squared: conduction modes of a long cylinder (Carslaw and Jaeger, 1959). */
const modes = [5.783186, 30.471262, 74.887007] as const;
/** Share of the mean temperature in each mode, 4/zero^2; the last stands for all faster ones. */
const shares = [4 / modes[0], 4 / modes[1], 1 - 4 / modes[0] - 4 / modes[1]] as const;
/** Thermal diffusivity of water at 20 degC, m2/s (IAPWS). */
const diffusivity = 1.4318e-7;

/** Slowest time constant (s) of a water column of this bore (mm) against a wall of constant temperature: R^2/(5.783 a). */
export const coolingTime = (bore: number): number => (bore / 2000) ** 2 / (modes[0] * diffusivity);

/**
 * Pressure of water shut into elastic hoses.
 *
 * Balance of volumes, with p gauge pressure (bar), T mean excess temperature of the water (K), V volumes (ml):
 * `V (kappa dp - alpha dT) + dVhose - dVair = flow dt`, `dVhose = expansion dp + creep`, air isothermal (Boyle) on
 * absolute pressure, `dT = (dT/dp)_s dp - cooling`. Water pushed in is taken as warm as the water already inside.
 */
export class Hydraulics {
  /** Gauge pressure, bar, never below 0: an open end takes in air. */
  pressure = 0;
  /** ml by which creep has widened the hoses so far. */
  creepVolume = 0;
  /** bar that leakage alone has cost so far: solution of the linearised balance driven by the leak only. */
  lost = 0;
  /** bar/s at which leakage alone lowers the pressure now. */
  lossRate = 0;

  private readonly water: WaterTable;
  private readonly excess = new Float64Array(3);
  private readonly coolingTimes: Float64Array;
  private readonly crept: Float64Array;
  private readonly creepCompliance: Float64Array;
  private readonly creepTime: Float64Array;
  private readonly lostExcess = new Float64Array(3);
  private readonly lostCrept: Float64Array;

  // Kept as fields of their own: the inner loop then sees objects of one shape only.
  private readonly volume: number;
  private readonly expansion: number;
  private readonly air: number;

  constructor(settings: AssemblySettings) {
    this.volume = settings.volume;
    this.expansion = settings.expansion;
    this.air = settings.air;
    this.water = waterAt(settings.temperature);
    this.coolingTimes = Float64Array.from(modes, (mode) => (settings.cooling * modes[0]) / mode);
    this.creepCompliance = Float64Array.from(settings.creep, (c) => c.compliance);
    this.creepTime = Float64Array.from(settings.creep, (c) => c.timeConstant);
    this.crept = new Float64Array(settings.creep.length);
    this.lostCrept = new Float64Array(settings.creep.length);
  }

  /** Mean temperature of the water above its surroundings, K. */
  get temperatureExcess(): number {
    return (this.excess[0] ?? 0) + (this.excess[1] ?? 0) + (this.excess[2] ?? 0);
  }

  /** ml of water at the present pressure. */
  get waterVolume(): number {
    return this.volume + this.expansion * this.pressure + this.creepVolume + this.air - this.airVolume;
  }

  /** ml of air at the present pressure (Boyle). */
  get airVolume(): number {
    return (this.air * atmosphere) / (atmosphere + this.pressure);
  }

  /** Mass of the water inside, as ml of water at zero gauge pressure and ambient temperature. */
  get waterMass(): number {
    return this.waterVolume * this.water.relativeDensity(this.pressure) * (1 - this.water.expansion(this.pressure) * this.temperatureExcess);
  }

  /** ml/bar at once: adiabatic water, elastic hose and air, at this pressure without creep. */
  complianceAt(pressure: number): number {
    const { volume, expansion, air } = this;
    const water = this.water.compressibility(pressure) - this.water.expansion(pressure) * this.water.adiabaticHeating(pressure);
    return (volume + expansion * pressure) * water + expansion + (air * atmosphere) / (atmosphere + pressure) ** 2;
  }

  /**
   * One explicit step of `dt` seconds. `inflow` and `outflow` are ml/s at the present pressure; `leakage` is the part
   * of `outflow` that is a leak.
   */
  step(dt: number, inflow: number, outflow: number, leakage: number): void {
    const p = this.pressure;
    const { expansion, air } = this;
    const alpha = this.water.expansion(p);
    const heating = this.water.adiabaticHeating(p);
    const volume = this.waterVolume;
    const absolute = atmosphere + p;
    const compliance = volume * (this.water.compressibility(p) - alpha * heating) + expansion + (air * atmosphere) / (absolute * absolute);

    let cooling = 0;
    let lostCooling = 0;
    for (let i = 0; i < 3; i++) {
      const time = this.coolingTimes[i] ?? 1;
      cooling += (this.excess[i] ?? 0) / time;
      lostCooling += (this.lostExcess[i] ?? 0) / time;
    }
    let creeping = 0;
    let lostCreeping = 0;
    for (let i = 0; i < this.crept.length; i++) {
      const rate = ((this.creepCompliance[i] ?? 0) * p - (this.crept[i] ?? 0)) / (this.creepTime[i] ?? 1);
      const lostRate = ((this.creepCompliance[i] ?? 0) * this.lost - (this.lostCrept[i] ?? 0)) / (this.creepTime[i] ?? 1);
      this.crept[i] = (this.crept[i] ?? 0) + rate * dt;
      this.lostCrept[i] = (this.lostCrept[i] ?? 0) + lostRate * dt;
      creeping += rate;
      lostCreeping += lostRate;
    }
    this.creepVolume += creeping * dt;

    const wanted = ((inflow - outflow - creeping - volume * alpha * cooling) / compliance) * dt;
    const change = Math.max(wanted, -p);
    this.lossRate = (leakage - lostCreeping - volume * alpha * lostCooling) / compliance;
    const lostChange = this.lossRate * dt;
    for (let i = 0; i < 3; i++) {
      const time = this.coolingTimes[i] ?? 1;
      const share = shares[i] ?? 0;
      this.excess[i] = (this.excess[i] ?? 0) * (1 - dt / time) + share * heating * change;
      this.lostExcess[i] = (this.lostExcess[i] ?? 0) * (1 - dt / time) + share * heating * lostChange;
    }
    this.pressure = p + change;
    this.lost += lostChange;
    // An empty hose has nothing left to lose.
    if (this.pressure === 0) this.forgetLoss();
  }

  private forgetLoss(): void {
    this.lost = 0;
    this.lossRate = 0;
    this.lostExcess.fill(0);
    this.lostCrept.fill(0);
  }
}

/** Flow through a small opening, relative to its flow at the reference pressure: `orifice` grows with the square root of p (turbulent), `laminar` with p, `constant` does not grow. */
export type FlowLaw = 'orifice' | 'laminar' | 'constant';

/** Relative flow at `pressure` (bar), 1 at `reference` (bar), 0 without pressure. */
export function relativeFlow(law: FlowLaw, pressure: number, reference: number): number {
  if (pressure <= 0) return 0;
  switch (law) {
    case 'orifice':
      return Math.sqrt(pressure / reference);
    case 'laminar':
      return pressure / reference;
    case 'constant':
      return 1;
  }
}

/** Flow (ml/s at `reference` bar) of an orifice that empties `compliance` ml/bar from `reference` to zero in `time` s: sqrt(p) falls linearly. */
export const orificeFlow = (reference: number, compliance: number, time: number): number => (2 * reference * compliance) / time;
