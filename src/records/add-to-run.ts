import { inputError, nearest } from '../core/problems.js';
import { same } from './assembly-results.js';
import type { AppendedEntry, Entry, Store } from './store.js';

/** Who adds something to a run, and why. */
export interface Author {
  readonly who: string;
  readonly why?: string;
}

/**
 * Appends an entry that a person makes: a job, a visual finding, a note. Nothing is replaced: a later entry of the same
 * kind holds, needs a reason, and the certificate names both.
 * @throws InputError for an entry that is not well formed, comes too early, or changes something without saying why
 */
export function addToRun(store: Store, number: number, entry: Entry, { who, why = '' }: Author): AppendedEntry {
  const source = `run ${number}`;
  const run = store.getRun(number);
  if (run === null) throw inputError(source, '', 'there is no such run');
  const entries = store.entriesOf(number);
  const earlier = entries.findLast((other) => other.entry.kind === entry.kind)?.entry;
  if (entry.kind === 'visual-finding') {
    if (run.state === 'open') throw inputError(source, 'finding', 'the run is still going on; look at the assemblies once the bench is vented');
    const job = entries.findLast((other) => other.entry.kind === 'job')?.entry;
    checkLeaks(entry, job?.kind === 'job' ? (job.assemblies ?? []) : [], source);
  }
  if (earlier !== undefined && entry.kind !== 'note' && run.state !== 'open' && why.trim() === '') {
    throw inputError(source, 'why', `is empty; there is a ${entry.kind.replace('-', ' ')} already, and a change needs its reason`);
  }
  return store.addEntry(number, entry, who, why.trim() === '' ? undefined : why.trim());
}

function checkLeaks(entry: Extract<Entry, { kind: 'visual-finding' }>, assemblies: readonly string[], source: string): void {
  const { finding, leaks = [], at = '' } = entry;
  if (finding !== 'leakage seen' && leaks.length > 0) throw inputError(source, 'leaks', `names ${leaks[0]?.assembly} although the finding is '${finding}'; say 'leakage seen', or leave it out`);
  if (finding === 'leakage seen' && leaks.length === 0 && at === '') throw inputError(source, 'at', "is empty; say where the leakage was seen, for example 'crimp, end B'");
  for (const { assembly } of assemblies.length === 0 ? [] : leaks) {
    if (assemblies.some((serial) => same(serial, assembly))) continue;
    const meant = nearest(assembly, assemblies);
    throw inputError(source, 'leaks', `'${assembly}' is no assembly of this run${meant === undefined ? '' : `; did you mean '${meant}'?`}`);
  }
}
