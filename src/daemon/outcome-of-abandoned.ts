import type { Outcome } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import type { Thresholds } from '../core/thresholds.js';
import type { Run, Store } from '../records/store.js';

/** What is said of a run that was going on when the program ended and cannot be found in what was stored. */
export function outcomeOfAbandoned(store: Store, run: Run): Outcome {
  const content = (hash: string | null): unknown => (hash === null ? null : (store.versions.get(hash)?.content ?? null));
  return {
    verdict: 'inconclusive',
    findings: [],
    cycles: [],
    events: [],
    notes: ['the program ended while this run went on, and what was stored of it does not show it again'],
    plan: (content(run.plan) as Plan | null)?.plan ?? null,
    thresholds: (content(run.thresholds) as Thresholds | null)?.thresholds ?? 'standard',
    signal: { samples: 0, interval: null, resolution: null, noise: null, missing: 0, duplicates: 0, backward: 0 },
  };
}
