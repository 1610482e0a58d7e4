import type { TraceStretch } from '../../src/server/history-answers.js';
import { indexAt, nearest, type Gap, type TraceSource } from '../shared/trace-source.js';
import type { Span } from '../shared/trace-window.js';

/** Asks for a stretch of a trace, thinned to columns where it is long. */
export type AskStretch = (window: Span & { readonly columns: number }) => Promise<TraceStretch>;

const mostColumns = 4000;
/** A stretch is asked for so much wider than what is shown, that pulling it aside first meets what is there already. */
const margin = 1;

/**
 * A trace that lies in the store: the whole of it thinned, and the part that is looked at as fine as the screen can show.
 * What is there is drawn at once; what is finer comes a moment later. Times are moved by `shift`, to lay runs over each other.
 */
export class StoredTrace implements TraceSource {
  time = new Float64Array(0);
  pressure = new Float64Array(0);
  #whole: TraceStretch | null = null;
  #near: TraceStretch | null = null;
  #asking = false;
  #wanted: { readonly span: Span; readonly columns: number } | null = null;

  /**
   * @param shift s that its times are moved by
   * @param whole asked for before anything else was known of the run
   */
  constructor(
    private readonly ask: AskStretch,
    readonly gaps: readonly Gap[],
    private readonly shift: number,
    private readonly arrived: (problem: string | null) => void,
    whole: Promise<TraceStretch>,
  ) {
    this.#asking = true;
    void this.#begin(whole);
  }

  readonly start = 0;
  get end(): number {
    return this.time.length;
  }
  indexAt(time: number): number {
    return indexAt(this, time);
  }
  nearest(time: number, reach: number): number {
    return nearest(this, time, reach);
  }

  /** s, widest column of what lies in a span: samples farther apart than that are a gap in it. */
  columnWithin({ from, to }: Span): number {
    const near = this.#near;
    if (near !== null && near.from_s + this.shift <= from && near.to_s + this.shift >= to) return near.column_s;
    return Math.max(this.#whole?.column_s ?? 0, near?.column_s ?? 0);
  }

  /** Sees to it that a span can be drawn `columns` wide; asks for what is missing, one question at a time. */
  want(shown: Span, columns: number): void {
    const span = { from: shown.from - this.shift, to: shown.to - this.shift };
    const width = (span.to - span.from) / Math.max(columns, 1);
    const near = this.#near;
    // Twice as fine as needed is kept; coarser is asked for anew.
    if (near !== null && near.from_s <= span.from && near.to_s >= span.to && near.column_s <= width * 1.01) return;
    this.#wanted = { span, columns };
    if (!this.#asking) void this.#askNext();
  }

  async #begin(whole: Promise<TraceStretch>): Promise<void> {
    try {
      const found = await whole;
      this.#whole = found;
      // The picture of a whole run is a little wider than the run; there is nothing to be seen there.
      const edge = 0.05 * (found.to_s - found.from_s) + 60;
      this.#near = { ...found, from_s: found.from_s - edge, to_s: found.to_s + edge };
      this.#join();
      this.arrived(null);
    } catch (error) {
      this.arrived(error instanceof Error ? error.message : String(error));
    }
    await this.#askNext();
  }

  async #askNext(): Promise<void> {
    this.#asking = true;
    for (let wanted = this.#wanted; wanted !== null; wanted = this.#wanted) {
      this.#wanted = null;
      const { span, columns } = wanted;
      const length = span.to - span.from;
      const reach = margin * length;
      try {
        const found = await this.ask({ from: span.from - reach, to: span.to + reach, columns: Math.min(Math.ceil(columns * (1 + 2 * margin)), mostColumns) });
        this.#near = { ...found, from_s: Math.min(found.from_s, span.from - reach), to_s: Math.max(found.to_s, span.to + reach) };
        this.#join();
        this.arrived(null);
      } catch (error) {
        this.arrived(error instanceof Error ? error.message : String(error));
        break;
      }
    }
    this.#asking = false;
  }

  /** The thinned whole, with the near part in its place. */
  #join(): void {
    const [whole, near] = [this.#whole, this.#near];
    if (near === null) return;
    const parts = whole === null || near.time_s === whole.time_s ? [near] : [cut(whole, -Infinity, near.time_s[0] ?? Infinity), near, cut(whole, near.time_s.at(-1) ?? Infinity, Infinity)];
    const count = parts.reduce((sum, { time_s }) => sum + time_s.length, 0);
    this.time = new Float64Array(count);
    this.pressure = new Float64Array(count);
    let at = 0;
    for (const { time_s, pressure_bar } of parts) {
      for (let i = 0; i < time_s.length; i++, at++) {
        this.time[at] = (time_s[i] ?? Number.NaN) + this.shift;
        this.pressure[at] = pressure_bar[i] ?? Number.NaN;
      }
    }
  }
}

/** What lies strictly between two moments. */
function cut({ time_s, pressure_bar }: TraceStretch, after: number, before: number): Pick<TraceStretch, 'time_s' | 'pressure_bar'> {
  const from = time_s.findIndex((t) => t > after);
  const end = time_s.findIndex((t) => t >= before);
  const [a, b] = [from < 0 ? time_s.length : from, end < 0 ? time_s.length : end];
  return { time_s: time_s.slice(a, b), pressure_bar: pressure_bar.slice(a, b) };
}
