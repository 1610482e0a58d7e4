import { traceOfParcel } from '../../src/server/run-parcel.js';
import type { ReadingClient } from './reading-client.js';
import type { LoadedRun } from './reading-messages.js';
import { Refusal, type TuningApi } from './tuning-api.js';

/** Samples that the page holds at most: some 350 MB with the worker's own. */
const mostSamples = 10_000_000;

/** The id under which a recorded run is known on the page. */
export const idOf = (run: number): string => `run ${run}`;

/** The number of a recorded run; `null` for a trace from a file. */
export const numberOf = (id: string): number | null => Number(/^run (\d+)$/.exec(id)?.[1] ?? NaN) || null;

/** The runs that are loaded, here and in the worker. */
export class RunShelf {
  private readonly runs = new Map<string, LoadedRun>();
  readonly loading = new Set<string>();

  constructor(private readonly api: TuningApi, private readonly client: ReadingClient) {}

  get(id: string): LoadedRun | null {
    return this.runs.get(id) ?? null;
  }

  has(id: string): boolean {
    return this.runs.has(id);
  }

  /** Loads a recorded run. @returns whether it is here now; false where it is on its way already @throws Refusal */
  async load(id: string): Promise<boolean> {
    if (this.runs.has(id)) return true;
    const number = numberOf(id);
    if (number === null || this.loading.has(id)) return false;
    this.loading.add(id);
    try {
      const parcel = await this.api.run(number);
      const { plan, thresholds, instrument, from, to, outcome } = parcel.head;
      this.hold({ id, trace: traceOfParcel(parcel), plan, own: thresholds, instrument, recorded: { from, to, outcome } });
      return true;
    } catch (error) {
      throw error instanceof RangeError ? new Refusal(`Run ${number} did not come whole; try again.`, 0) : error;
    } finally {
      this.loading.delete(id);
    }
  }

  /** @throws Refusal where the page would hold too much */
  hold(run: LoadedRun): void {
    let samples = run.trace.time.length;
    for (const other of this.runs.values()) if (other.id !== run.id) samples += other.trace.time.length;
    if (samples > mostSamples) throw new Refusal(`${run.id} is too much beside what is loaded: ${Math.round(samples / 1e6)} million readings. Open the page anew and tick fewer runs.`, 413);
    this.runs.set(run.id, run);
    this.client.hold(run);
  }
}
