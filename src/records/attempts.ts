import type { Verdict } from '../core/outcome.js';
import type { Entry } from './entries.js';
import type { RunState } from './runs.js';
import type { StoreReader } from './store-reader.js';

/** One run of an assembly. */
export interface Attempt {
  readonly run: number;
  /** `missing` where entries speak of a run that the store no longer has. */
  readonly state: RunState | 'missing';
  /** As sealed; `null` while it is open. A later judgement does not replace it. */
  readonly verdict: Verdict | null;
  /** Verdict of the newest judgement after the run, where there was one. */
  readonly judgedAgain: string | null;
  /** Who took the serial number off this run in a later entry; `null` where it still names it. */
  readonly withdrawnBy: string | null;
}

/**
 * Every run whose job entries name the serial number of an assembly, in order. A run that named it once and was
 * corrected stays in the list: a correction must not make a failed run disappear. Blanks around the serial number and
 * capital or small letters make no difference.
 */
export function attemptsOf(store: StoreReader, serial: string): Attempt[] {
  const named = store.db.prepare<[], { run: number; serial: string }>(
    `SELECT run, assembly.value AS serial FROM entries, json_each(entries.content, '$.assemblies') AS assembly
       WHERE kind = 'job' ORDER BY run`,
  );
  const runs = new Set<number>();
  for (const row of named.iterate()) if (plain(row.serial) === plain(serial)) runs.add(row.run);
  return [...runs].map((run) => {
    const entries = store.entriesOf(run);
    const job = entries.findLast(({ entry }) => entry.kind === 'job');
    const again = entries.findLast(({ entry }) => entry.kind === 'judged-again')?.entry;
    const stored = store.getRun(run);
    return {
      run,
      state: stored?.state ?? 'missing',
      verdict: stored?.verdict ?? null,
      judgedAgain: again?.kind === 'judged-again' ? verdictIn(again.outcome) : null,
      withdrawnBy: job === undefined || names(job.entry, serial) ? null : job.who,
    };
  });
}

/**
 * Which attempt a run was for an assembly and how the others ended: `attempt 2 of 2, run 7 not passed`. Later ones are
 * told as such; `null` when the run does not name the assembly.
 */
export function attemptSentence(attempts: readonly Attempt[], run: number): string | null {
  const counted = attempts.filter(({ withdrawnBy }) => withdrawnBy === null);
  const place = counted.findIndex((attempt) => attempt.run === run);
  if (place < 0) return null;
  const others = counted.flatMap((attempt, i) => (i === place ? [] : [`${i > place ? 'later ' : ''}run ${attempt.run} ${ending(attempt)}`]));
  const withdrawn = attempts.flatMap((attempt) =>
    attempt.withdrawnBy === null ? [] : [`run ${attempt.run} ${ending(attempt)} named it until ${attempt.withdrawnBy} corrected that`],
  );
  return [`attempt ${place + 1} of ${counted.length}`, ...others, ...withdrawn].join(', ');
}

function ending({ state, verdict, judgedAgain }: Attempt): string {
  if (state === 'missing' || state === 'open') return state === 'open' ? 'still open' : 'is missing';
  const ended = verdict === 'pass' ? 'passed' : 'not passed';
  return judgedAgain === null || judgedAgain === verdict ? ended : `${ended} (judged again: ${judgedAgain})`;
}

const plain = (serial: string) => serial.trim().toLowerCase();

const names = (entry: Entry, serial: string) => entry.kind === 'job' && (entry.assemblies ?? []).some((named) => plain(named) === plain(serial));

function verdictIn(outcome: unknown): string | null {
  const verdict = typeof outcome === 'object' && outcome !== null && 'verdict' in outcome ? outcome.verdict : null;
  return typeof verdict === 'string' ? verdict : null;
}
