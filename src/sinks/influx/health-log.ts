import { laneTag } from './lanes.js';
import { lineOf, type FieldValue } from './line.js';
import type { Engine } from './settings.js';
import { Stamps } from './stamps.js';

/** How a bench was at one moment. */
export interface HealthPoint {
  /** ms since 1970 */
  readonly wall: number;
  readonly fields: Readonly<Record<string, FieldValue | null>>;
}

/** Points kept while the database is away: a day of one a minute. */
const kept = 1440;

/**
 * Health of a bench, once a minute. It tells of the moment and is not on record, so it waits in memory only: the newest
 * day of it.
 */
export class HealthLog {
  private readonly points: HealthPoint[] = [];
  private stamps: { readonly engine: Engine; readonly stamps: Stamps } | null = null;

  constructor(private readonly bench: string) {}

  add(point: HealthPoint): void {
    this.points.push(point);
    if (this.points.length > kept) this.points.shift();
  }

  waiting(): readonly HealthPoint[] {
    return [...this.points];
  }

  /** Forgets what has arrived. */
  sent(arrived: readonly HealthPoint[]): void {
    const gone = new Set(arrived);
    this.points.splice(0, this.points.length, ...this.points.filter((point) => !gone.has(point)));
  }

  /** Lines of the points, each with a stamp of its own. Call once for a point: a second call gives it a later stamp. */
  lines(points: readonly HealthPoint[], engine: Engine): string[] {
    if (this.stamps?.engine !== engine) this.stamps = { engine, stamps: new Stamps(engine, {}) };
    const { stamps } = this.stamps;
    return points.flatMap(({ wall, fields }) => {
      const { lane, stamp } = stamps.of('health', wall);
      return lineOf({ measurement: 'health', tags: { bench: this.bench, lane: laneTag(lane) }, fields, stamp }, engine) ?? [];
    });
  }
}
