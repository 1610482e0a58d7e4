/**
 * Which stretch of time the trace shows. `run` and `last` move with the newest sample; `fixed` stays where the person
 * has put it, while recording goes on.
 */
export type TraceWindow =
  | { readonly kind: 'run' }
  | { readonly kind: 'last'; readonly seconds: number }
  | { readonly kind: 'fixed'; readonly from: number; readonly to: number };

/** s on the trace's clock. */
export interface Span {
  readonly from: number;
  readonly to: number;
}

/** What there is to show, s. `runSince` is the start of the present run, or of the last one. */
export interface Extent {
  readonly oldest: number;
  readonly newest: number;
  readonly runSince: number | null;
}

const shortest = 0.05;
/** Least shown of a run, so that its first seconds are not stretched over the whole width. */
const leastOfRun = 60;

/** From and to of what is shown. Before the first sample: the minute from 0. */
export function spanOf(window: TraceWindow, extent: Extent): Span {
  if (window.kind === 'fixed') return { from: window.from, to: window.to };
  if (Number.isNaN(extent.newest)) return { from: 0, to: leastOfRun };
  if (window.kind === 'last') return { from: extent.newest - window.seconds, to: extent.newest };
  const begin = extent.runSince ?? Math.max(extent.oldest, extent.newest - 2 * leastOfRun);
  const length = Math.max(extent.newest - begin, leastOfRun);
  // A little before the first rise, and room after the newest sample, where the line is heading.
  return { from: begin - 0.04 * length, to: begin + 1.03 * length };
}

/** Nearer (`factor` below 1) or farther around the moment `at`. Farther than everything there is shows all of it. */
export function zoomed(span: Span, factor: number, at: number, extent: Extent): TraceWindow {
  const length = span.to - span.from;
  const all = Math.max(extent.newest - extent.oldest, leastOfRun) * 1.1;
  const wanted = Math.min(Math.max(length * factor, shortest), all);
  const from = at - ((at - span.from) / length) * wanted;
  return kept({ from, to: from + wanted }, extent);
}

/** Earlier (negative) or later by a share of what is shown. */
export function panned(span: Span, share: number, extent: Extent): TraceWindow {
  const by = (span.to - span.from) * share;
  return kept({ from: span.from + by, to: span.to + by }, extent);
}

/** Never so far to either side that nothing is left to see. */
function kept({ from, to }: Span, extent: Extent): TraceWindow {
  if (Number.isNaN(extent.newest)) return { kind: 'run' };
  const length = to - from;
  const begin = Math.min(Math.max(from, extent.oldest - 0.9 * length), extent.newest - 0.1 * length);
  return { kind: 'fixed', from: begin, to: begin + length };
}
