import { z } from 'zod';

/**
 * Newest stamp of each lane of each series. A point is known by its series and stamp, so two readings with one stamp
 * would be one point. Lane 0 is the series itself; the others carry a tag `lane`.
 */
export type LaneTable = Record<string, number[]>;

export const laneTableSchema = z.record(z.string(), z.array(z.int()).max(64));

const mostLanes = 64;

/**
 * Gives a point its place: the first lane in which it comes after all before it, moved by at most `slack`. So readings
 * that share a stamp keep their order and none is lost, and after the clock was set back the readings of the hour that
 * comes twice go into a lane of their own instead of over the earlier ones.
 *
 * Depends on nothing but the table and the order of calls: the same points sent again get the same stamps.
 * @param lanes of the series, changed in place: the newest stamp of the lane returned is the point's.
 * @param wanted the stamp by the clock, whole units
 * @param slack units, how much later than wanted a stamp may be
 * @returns the lane
 */
export function takeStamp(lanes: number[], wanted: number, slack: number): number {
  for (let lane = 0; lane < lanes.length; lane++) {
    const stamp = Math.max(wanted, lanes[lane]! + 1);
    if (stamp - wanted <= slack) {
      lanes[lane] = stamp;
      return lane;
    }
  }
  if (lanes.length < mostLanes) return lanes.push(wanted) - 1;
  // Rather a stamp that is off than a reading lost: the lane that is least ahead.
  const least = lanes.reduce((best, stamp, lane) => (stamp < lanes[best]! ? lane : best), 0);
  lanes[least]!++;
  return least;
}

/** Tag of a lane. */
export const laneTag = (lane: number): string | undefined => (lane === 0 ? undefined : String(lane));
