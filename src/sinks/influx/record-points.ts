import type { Cycle, FoundEvent, Outcome, Verdict } from '../../core/outcome.js';
import type { Mark } from '../../core/trace.js';
import type { Run } from '../../records/runs.js';
import { laneTag } from './lanes.js';
import type { FieldValue, Point } from './line.js';
import type { Stamps } from './stamps.js';

/** Which channel of which bench, and the plan of the run where there is one. */
export interface Origin {
  readonly channel: number;
  readonly bench: string;
  readonly name: string;
  readonly plan: string | null;
}

/** Makes the points of what is recorded besides samples. Every one has a number, so that none is empty where texts are not kept. */
export class RecordPoints {
  constructor(private readonly stamps: Stamps) {}

  /** @param number of the event in the store @param wall ms since 1970 of its `at` */
  event(origin: Origin, number: number, run: number | null, event: FoundEvent, wall: number): Point {
    return this.point('events', origin, { kind: event.kind }, wall, {
      number: BigInt(number),
      run: run === null ? null : BigInt(run),
      height_bar: event.height,
      width_s: event.width,
      pressure_bar: event.pressure,
      unclear: event.unclear,
      note: event.note,
    });
  }

  mark(origin: Origin, number: number, mark: Mark, wall: number): Point {
    return this.point('marks', origin, { kind: mark.kind }, wall, { number: BigInt(number), text: mark.text });
  }

  /** A run that is over, its verdict and its findings. @param wallOf ms since 1970 of a time of the store */
  run(origin: Origin, run: Run, wallOf: (time: number) => number): Point[] {
    const { outcome, verdict, toWall, to } = run;
    if (outcome === null || verdict === null || toWall === null || to === null) return [];
    const number = BigInt(run.number);
    const tags = { verdict, state: run.state };
    return [
      this.point('runs', origin, tags, toWall, { run: number, from_ms: BigInt(Math.round(run.fromWall)), duration_s: to - run.from, ...figuresOf(outcome), software: run.software }),
      this.verdict(origin, run.number, verdict, 'run', toWall),
      ...outcome.findings.map((finding) =>
        this.point('findings', origin, { rule: finding.rule, outcome: finding.outcome, unit: finding.unit }, finding.at === null ? toWall : wallOf(finding.at), {
          run: number,
          cycle: BigInt(finding.cycle ?? 1),
          measured: finding.measured,
          limit: finding.limit,
          uncertainty: finding.uncertainty,
          sentence: finding.sentence,
        }),
      ),
    ];
  }

  /** `source`: sealed with the run, or a later judgement. */
  verdict(origin: Origin, run: number, verdict: Verdict, source: 'run' | 'judged-again', wall: number): Point {
    const is = (one: Verdict) => (verdict === one ? 1n : 0n);
    return this.point('verdicts', origin, { source }, wall, { run: BigInt(run), pass: is('pass'), fail: is('fail'), inconclusive: is('inconclusive') });
  }

  private point(measurement: string, origin: Origin, tags: Record<string, string>, wall: number, fields: Record<string, FieldValue | null | undefined>): Point {
    // The lanes know less of the series than its tags say: then a stamp is unique all the more.
    const { lane, stamp } = this.stamps.of([measurement, origin.channel, Object.values(tags)[0]].join(' '), wall);
    return { measurement, tags: { bench: origin.bench, channel: origin.name, plan: origin.plan ?? undefined, ...tags, lane: laneTag(lane) }, fields, stamp };
  }
}

/** The figures that a list of runs shows: the worst of the cycles, each. */
function figuresOf({ cycles, events }: Outcome): Record<string, FieldValue | null> {
  const worst = (pick: (cycle: Cycle) => number | null | undefined, choose: (...values: number[]) => number) => {
    const values = cycles.map(pick).filter((value) => typeof value === 'number');
    return values.length === 0 ? null : choose(...values);
  };
  return {
    cycles: BigInt(cycles.length),
    strokes: BigInt(cycles.reduce((sum, cycle) => sum + cycle.strokes, 0)),
    events: BigInt(events.length),
    peak_bar: worst((cycle) => cycle.peak, Math.max),
    hold_start_bar: worst((cycle) => cycle.holdStartPressure, Math.min),
    hold_minimum_bar: worst((cycle) => cycle.holdMinimum, Math.min),
    drop_bar: worst((cycle) => cycle.drop, Math.max),
    leak_bar_per_min: worst((cycle) => cycle.leak?.rate, Math.max),
  };
}
