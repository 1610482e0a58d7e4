import type { EarlierRun } from '../shared/trace-chart.js';

/** The thinned trace of a finished run as the server sends it; `null` for anything else. A missing value becomes NaN, never 0. */
export function readEnvelope(body: unknown): EarlierRun | null {
  if (typeof body !== 'object' || body === null || !('time_s' in body) || !('pressure_bar' in body)) return null;
  const { time_s, pressure_bar } = body;
  if (!Array.isArray(time_s) || !Array.isArray(pressure_bar) || time_s.length !== pressure_bar.length) return null;
  const number = (value: unknown): number => (typeof value === 'number' ? value : Number.NaN);
  return { time: Float64Array.from(time_s, number), pressure: Float64Array.from(pressure_bar, number) };
}

/** Moves a run so that its first sample lies at `start`, s. */
export function movedTo(run: EarlierRun, start: number): EarlierRun {
  const by = start - (run.time[0] ?? 0);
  return { time: run.time.map((t) => t + by), pressure: run.pressure };
}

/** Fetches a finished run of a bench; `null` when there is none to be had. */
export async function fetchRun(bench: string, run: string): Promise<EarlierRun | null> {
  const answer = await fetch(`/api/benches/${encodeURIComponent(bench)}/envelope?run=${encodeURIComponent(run)}&columns=1500`);
  return answer.ok ? readEnvelope(await answer.json()) : null;
}
