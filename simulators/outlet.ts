import { relativeFlow, type FlowLaw } from './hydraulics.js';

/** A way out for the water: a leak, a burst, the vent valve. Shut until `at`. */
export class Outlet {
  /** s when it began to open, NaN while shut. */
  at = Number.NaN;

  constructor(
    /** ml/s at the reference pressure when fully open. */
    private readonly flow: number,
    private readonly law: FlowLaw,
    /** bar */
    private readonly reference: number,
    /** s until fully open, >= 0. */
    private readonly opening: number,
    /** s in which the flow doubles; Infinity for a flow that does not grow. */
    private readonly doubling: number,
  ) {}

  /** ml/s at `time` (s) and `pressure` (bar). */
  flowAt(time: number, pressure: number): number {
    const age = time - this.at;
    if (!(age >= 0)) return 0;
    const open = age < this.opening ? age / this.opening : 1;
    const growth = this.doubling === Number.POSITIVE_INFINITY ? 1 : 2 ** (age / this.doubling);
    return this.flow * open * growth * relativeFlow(this.law, pressure, this.reference);
  }
}
