import { Flag } from '../../core/trace.js';
import type { Samples } from '../../records/block-codec.js';
import type { Anchor } from '../../records/channels.js';
import { laneTag } from './lanes.js';
import { seriesOf } from './line.js';
import type { Engine } from './settings.js';
import { aDay, year2000, type Stamps } from './stamps.js';

/** Where samples come from and what holds for them. */
export interface SampleOrigin {
  readonly channel: number;
  readonly bench: string;
  readonly name: string;
  readonly anchor: Anchor;
}

/** Stretch of a block to send. */
export interface SampleStretch {
  readonly samples: Samples;
  readonly from: number;
  readonly to: number;
  /** A byte a sample, 1 where it is sent; `null`: all. */
  readonly kept: Uint8Array | null;
}

/** Flags with which the pressure is still worth drawing: at the end of the range it is at least that high. */
const trusted = Flag.saturated;

/** Writes samples as lines. */
export class SampleLines {
  private readonly series = new Map<string, string>();

  constructor(private readonly engine: Engine) {}

  /**
   * Appends the lines of a stretch. A good sample has a pressure and no flags; a bad one has flags, and a pressure only
   * where that is one: never 0, never NaN.
   * @param now ms since 1970
   * @returns samples without a line because their stamp is before 2000 or more than a day ahead: the clock was wrong
   */
  append(lines: string[], { channel, bench, name, anchor }: SampleOrigin, { samples, from, to, kept }: SampleStretch, stamps: Stamps, now: number): number {
    const { time, pressure, flags } = samples;
    const key = `samples ${channel}`;
    const lanes = stamps.lanesOf(key);
    let wrong = 0;
    for (let i = from; i < to; i++) {
      const wall = anchor.wall + (time[i]! - anchor.time) * 1000;
      if (wall < year2000 || wall > now + aDay) {
        wrong++;
        continue;
      }
      const lane = stamps.place(lanes, wall);
      if (kept !== null && kept[i] === 0) continue;
      const p = pressure[i]!;
      const isNumber = Number.isFinite(p);
      // A number that is none needs no further reason to be flagged.
      const flag = isNumber ? flags[i]! : flags[i]! || Flag.unreadable;
      const shown = isNumber && (flag & ~trusted) === 0;
      const fields = shown ? (flag === 0 ? `pressure_bar=${p}` : `pressure_bar=${p},flags=${flag}i`) : `flags=${flag}i`;
      lines.push(`${this.seriesOf(key, bench, name, lane)} ${fields} ${lanes[lane]!}`);
    }
    return wrong;
  }

  private seriesOf(key: string, bench: string, channel: string, lane: number): string {
    const place = `${key} ${lane}`;
    let series = this.series.get(place);
    if (series === undefined) this.series.set(place, (series = seriesOf('samples', { bench, channel, lane: laneTag(lane) }, this.engine)));
    return series;
  }
}
