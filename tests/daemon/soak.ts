import { readdirSync, readlinkSync } from 'node:fs';
import { HandBench, judgingBy } from './hand-bench.js';

export interface SoakSize {
  /** Simulated days. */
  readonly days: number;
  readonly runsPerDay: number;
  /** s between two readings while the bench is idle; 0.05 during a run and half a minute before. */
  readonly idleSpacing: number;
  /** Folder for the store, empty. */
  readonly folder: string;
  /** Told after each day. */
  readonly day?: (figures: DayFigures) => void;
}

/** What the process holds at the end of a simulated day, after the heap was collected where that can be asked for. */
export interface DayFigures {
  readonly day: number;
  /** bytes */
  readonly heap: number;
  readonly arrays: number;
  readonly resident: number;
  /** Open files, sockets and the like. */
  readonly handles: number;
  /** Of them, files of the bench. */
  readonly files: number;
  /** Timers and the like that keep the program awake. */
  readonly active: number;
  readonly runs: number;
  readonly readings: number;
}

const daySeconds = 86_400;
/** s: half a minute of quick readings, the run, and what follows. */
const runSeconds = 30 + 33;

/**
 * Weeks of a bench in minutes: the daemon with its real driver, reader, store and feed, on a cable and clocks that are
 * moved by hand. Old idle time is given up after two days, so that retention works all along.
 */
export async function soak(size: SoakSize): Promise<{ bench: HandBench; days: DayFigures[] }> {
  const bench = new HandBench(judgingBy(), {}, 'dwellkeeper test', { disk: { keepIdle: '2 days' } }, size.folder);
  bench.daemon.start();
  let readings = 0;
  bench.daemon.listen({ heard: ({ kind }) => (readings += kind === 'sample' ? 1 : 0) });
  const { feed } = bench.daemon;
  feed.subscribe({ onSamples: () => undefined, onView: () => undefined, onEvent: () => undefined, onRunEnded: () => undefined, onChanged: () => undefined });
  const idle = (daySeconds - size.runsPerDay * runSeconds) / size.runsPerDay;
  const days: DayFigures[] = [];
  for (let day = 1; day <= size.days; day++) {
    for (let run = 0; run < size.runsPerDay; run++) {
      await stand(bench, idle, size.idleSpacing);
      bench.ramp(0, 0, 30);
      bench.goodRun();
      bench.daemon['tick']();
      feed.envelope({ from: -Infinity, to: Infinity }, 500);
      feed.recentRuns(20);
    }
    const figures = { day, ...held(size.folder), runs: bench.daemon.records?.listRuns({ limit: 1e6 }).length ?? 0, readings };
    days.push(figures);
    size.day?.(figures);
  }
  return { bench, days };
}

/** The bench stands idle; what waits in the program's own queues, and the thread that merges, get their turn once a minute. */
async function stand(bench: HandBench, seconds: number, spacing: number): Promise<void> {
  const count = Math.floor(seconds / spacing);
  const minute = Math.max(1, Math.floor(60 / spacing));
  for (let i = 0; i < count; i++) {
    bench.wait(spacing);
    bench.line((0.2 + ((i * 37) % 11) / 100).toFixed(2));
    bench.daemon['tick']();
    if (i % minute !== 0) continue;
    await new Promise((resolve) => setImmediate(resolve));
    await bench.daemon.records?.merged();
  }
}

function held(folder: string): Pick<DayFigures, 'heap' | 'arrays' | 'resident' | 'handles' | 'files' | 'active'> {
  globalThis.gc?.();
  const { heapUsed, arrayBuffers, rss } = process.memoryUsage();
  const open = readdirSync('/proc/self/fd').map(targetOf);
  const files = open.filter((target) => target.startsWith(folder)).length;
  return { heap: heapUsed, arrays: arrayBuffers, resident: rss, handles: open.length, files, active: process.getActiveResourcesInfo().length };
}

/** Least squares: by how much a figure grows each day. */
export function slopePerDay(days: readonly DayFigures[], figure: (day: DayFigures) => number): number {
  const n = days.length;
  const meanDay = days.reduce((sum, { day }) => sum + day, 0) / n;
  const mean = days.reduce((sum, day) => sum + figure(day), 0) / n;
  const spread = days.reduce((sum, { day }) => sum + (day - meanDay) ** 2, 0);
  return days.reduce((sum, day) => sum + (day.day - meanDay) * (figure(day) - mean), 0) / spread;
}

function targetOf(descriptor: string): string {
  try {
    return readlinkSync(`/proc/self/fd/${descriptor}`);
  } catch {
    return ''; // the one by which the list was read
  }
}
