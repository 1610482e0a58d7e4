import { inputError } from '../core/problems.js';
import type { Outcome } from '../core/outcome.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import { extentOf, runRecord } from './run-record.js';
import type { Run, RunStart } from './runs.js';
import type { StoreParts } from './store-parts.js';
import { TraceSealing } from './trace-sealing.js';
import type { TraceWriter } from './trace-writer.js';

/** How a run ended. */
export interface RunEnd {
  /** s, when the start turned out to be another than was given to `openRun`. */
  readonly from?: number;
  /** s, the last sample that belongs to it. */
  readonly to: number;
  readonly outcome: Outcome;
  /** What was read to judge it, so that it can be judged again from the record alone. */
  readonly reading?: ReadingStretch;
}

/** What a run is opened and closed with; the parts are others once a file has been replaced. */
export interface RunBookSources {
  readonly parts: () => StoreParts;
  readonly writer: (channel: number) => TraceWriter | undefined;
  /** ms since 1970 at a time (s) of a channel. */
  readonly wallOf: (channel: number, time: number) => number;
  /** Name and version of the program. */
  readonly software: string;
}

/** Opens runs and closes them with a seal over record and trace. */
export class RunBook {
  private readonly sealings = new Map<number, TraceSealing>();

  constructor(private readonly sources: RunBookSources) {}

  /** What was received so far is committed first: a run on record has the samples by which it was found. @returns the number of the new run */
  open(start: RunStart): number {
    const { db, channels, runs, search } = this.sources.parts();
    const channel = channels.get(start.channel);
    if (!channel) throw new RangeError(`there is no channel ${start.channel}`);
    this.commit(start.channel, 'the run cannot be opened yet');
    return db
      .transaction(() => {
        const number = runs.open(start, channel.bench, this.sources.wallOf(start.channel, start.from), this.sources.software);
        search.index(number);
        return number;
      })
      .immediate();
  }

  /** Reads a part of the trace for the seal. @returns whether all is read */
  prepare(number: number, end: RunEnd): boolean {
    return this.sealingOf(this.openOne(number), end).step();
  }

  /** Closes a run and seals its record. */
  close(number: number, state: 'finished' | 'interrupted', end: RunEnd): Run {
    const run = this.openOne(number);
    const { db, runs, ledger, search, channels, versions, traces } = this.sources.parts();
    const from = end.from ?? run.from;
    const sealing = this.sealingOf(run, end);
    while (!sealing.step());
    const trace = sealing.done;
    if (trace === null) throw new Error(`run ${number} has no seal`);
    const closed = db
      .transaction(() => {
        const [fromWall, toWall] = [this.sources.wallOf(run.channel, from), this.sources.wallOf(run.channel, end.to)];
        runs.close(number, { state, from, to: end.to, fromWall, toWall, outcome: end.outcome, received: trace.received, reading: end.reading ?? null });
        const closed = runs.get(number);
        if (!closed) throw new Error(`run ${number} is gone`);
        ledger.append(number, null, runRecord(closed, { channels, versions, traces }, trace));
        search.index(number);
        return closed;
      })
      .immediate();
    this.sealings.delete(number);
    return closed;
  }

  /** Traces that were read for a seal lie in a file that is no longer in use. */
  forgetPrepared(): void {
    this.sealings.clear();
  }

  private openOne(number: number): Run {
    const run = this.sources.parts().runs.get(number);
    if (run?.state !== 'open') throw inputError(`run ${number}`, '', run ? `is ${run.state} already` : 'there is no such run');
    return run;
  }

  private sealingOf(run: Run, end: RunEnd): TraceSealing {
    const { number, channel } = run;
    this.commit(channel, `run ${number} cannot be sealed yet`);
    const { db, blocks, traces } = this.sources.parts();
    const { from, to } = extentOf({ from: end.from ?? run.from, to: end.to, reading: end.reading ?? null });
    const begun = this.sealings.get(number);
    if (begun?.stretch.from === from && begun.stretch.to === to) return begun;
    const sealing = new TraceSealing(db, blocks, { channel, from, to, received: traces.received(channel) });
    this.sealings.set(number, sealing);
    return sealing;
  }

  private commit(channel: number, otherwise: string): void {
    const writer = this.sources.writer(channel);
    if (writer && !writer.flush()) throw new Error(`${otherwise}: ${writer.trouble?.sentence}`);
  }
}
