import type { Channels } from './channels.js';
import type { Run } from './runs.js';
import { TraceDigest } from './trace-digest.js';
import type { Received, TraceReader } from './trace-reader.js';
import type { Versions } from './versions.js';

/** What a record is made from. */
export interface RecordSources {
  readonly channels: Channels;
  readonly versions: Versions;
  readonly traces: TraceReader;
}

/** Number of samples of a run, digest of its trace, and what had been received when it was taken. */
export interface TraceSeal {
  readonly samples: number;
  readonly sha256: string;
  readonly received: Received;
}

/**
 * Everything about a run that is over, as it is sealed. The very same is made again from the tables when the ledger is
 * checked, so that a change in any of them shows.
 */
export function runRecord(run: Run, { channels, versions, traces }: RecordSources, trace: TraceSeal) {
  const to = run.to ?? run.from;
  const extent = extentOf(run);
  const channel = channels.get(run.channel);
  const version = (hash: string | null) => (hash === null ? null : { sha256: hash, content: versions.get(hash)?.content ?? null });
  return {
    record: 'run',
    format: 1,
    number: run.number,
    bench: run.bench,
    channel: { name: channel?.name ?? null, unit: channel?.unit ?? null },
    state: run.state,
    verdict: run.verdict,
    from_s: run.from,
    to_s: to,
    from: new Date(run.fromWall).toISOString(),
    to: run.toWall === null ? null : new Date(run.toWall).toISOString(),
    clock: channels.anchorsWithin(run.channel, run.from, to),
    plan: version(run.plan),
    thresholds: version(run.thresholds),
    instrument: run.instrument,
    outcome: run.outcome,
    reading: run.reading && { from_s: run.reading.from, to_s: run.reading.to, lid: run.reading.lid },
    marks: traces.marks(run.channel, extent.from, extent.to, trace.received),
    trace,
    software: run.software,
  } as const;
}

/** s: the stretch of the trace that is sealed with a run, what was read to judge it and the run itself. */
export const extentOf = ({ from, to, reading }: Pick<Run, 'from' | 'to' | 'reading'>): { from: number; to: number } => ({
  from: Math.min(from, reading?.from ?? from),
  to: Math.max(to ?? from, reading?.to ?? from),
});

/**
 * Reads the whole trace of a run for its digest.
 * @throws DamagedBlock
 */
export function traceSeal(traces: TraceReader, channel: number, from: number, to: number, received: Received): TraceSeal {
  const digest = new TraceDigest();
  traces.pieces(channel, from, to, received, (samples) => {
    digest.add(samples);
  });
  return { samples: digest.count, sha256: digest.done(), received };
}
