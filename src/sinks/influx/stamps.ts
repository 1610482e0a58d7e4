import { takeStamp, type LaneTable } from './lanes.js';
import type { Engine } from './settings.js';

/** ms since 1970: no reading of ours is older, so an earlier stamp comes from a clock that was not set. */
export const year2000 = Date.UTC(2000, 0, 1);
/** ms */
export const aDay = 86_400_000;

/** ms that a stamp may be later than the clock says, to be the only one. USB adapters hand over up to 16 ms of lines at once. */
const slack = 20;

/** How finely an engine tells points apart. */
export interface Resolution {
  /** As the line protocol names it. */
  readonly precision: 'u' | 'ms';
  /** Units in a ms. */
  readonly perMillisecond: number;
}

/**
 * InfluxDB is given µs: what the store counts in, and whole numbers that a double holds exactly, which ns since 1970
 * are not. VictoriaMetrics keeps ms.
 */
export const resolutionOf = (engine: Engine): Resolution =>
  engine === 'victoria-metrics' ? { precision: 'ms', perMillisecond: 1 } : { precision: 'u', perMillisecond: 1000 };

/** Gives every point a stamp that no other point of its series has. */
export class Stamps {
  private readonly units: number;

  constructor(
    engine: Engine,
    private readonly lanes: LaneTable,
  ) {
    this.units = resolutionOf(engine).perMillisecond;
  }

  /** Lanes of a series, for `place`. */
  lanesOf(series: string): number[] {
    return (this.lanes[series] ??= []);
  }

  /** @param wall ms since 1970 @returns the lane; its newest stamp is the point's */
  place(lanes: number[], wall: number): number {
    // By way of whole µs: a fraction of a ms is not exact in a double, and must not fall into the ms before.
    return takeStamp(lanes, Math.floor((Math.round(wall * 1000) / 1000) * this.units + 1e-6), slack * this.units);
  }

  /** Lane and stamp of a single point. @param wall ms since 1970 */
  of(series: string, wall: number): { lane: number; stamp: number } {
    const lanes = this.lanesOf(series);
    const lane = this.place(lanes, wall);
    return { lane, stamp: lanes[lane]! };
  }
}
