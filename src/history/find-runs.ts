import { sentenceOnRunClock } from '../certificate/run-clock.js';
import type { Outcome } from '../core/outcome.js';
import { reasonsOf } from '../daemon/run-summary.js';
import { runStory, type RunStory } from '../records/run-story.js';
import type { StoreReader } from '../records/store-reader.js';
import type { FoundRun, FoundRuns } from '../server/history-answers.js';
import type { RunsChoice } from './history-question.js';
import { RunFactsReader, type RunFacts } from './run-facts.js';

/** ms that one answer may search; what is left is asked for anew, so that a page can show how far it has come. */
const patience = 400;
/** Runs looked up in the index at once. */
const stride = 500;

/**
 * Runs of a bench that fit, the newest first. The result counts as it is now, with a later judgement and what a person
 * saw. Gives up after a while and says where to go on.
 * @param now ms, any clock
 */
export function findRuns(
  store: StoreReader, bench: string, { limit, before, ...choice }: RunsChoice & { readonly limit: number; readonly before?: number | undefined }, now: () => number = () => performance.now(),
): FoundRuns {
  const facts = new RunFactsReader(store);
  const began = now();
  const runs: FoundRun[] = [];
  let looked = 0;
  let next: number | null = before ?? Number.MAX_SAFE_INTEGER;
  while (next !== null && runs.length < limit && (looked === 0 || now() - began < patience)) {
    const numbers = store.search.find({ bench, ...given(choice), limit: choice.result === undefined ? Math.min(stride, limit - runs.length) : stride, before: next });
    for (const number of numbers) {
      if (runs.length >= limit) break;
      looked++;
      next = number;
      const found = facts.of(number);
      if (found !== null && fits(found, choice.result)) runs.push(foundRun(store, found));
    }
    if (numbers.length === 0) next = null;
  }
  if (next !== null && store.search.find({ bench, ...given(choice), limit: 1, before: next }).length === 0) next = null;
  return { runs, next, looked, onRecord: store.db.prepare<[string], number>('SELECT count(*) FROM runs WHERE bench = ?').pluck().get(bench) ?? 0 };
}

/** Every run that fits, for a table; the newest first, one at a time. */
export function* everyRun(store: StoreReader, bench: string, choice: RunsChoice): Generator<FoundRun> {
  for (let before: number | null = Number.MAX_SAFE_INTEGER; before !== null; ) {
    const { runs, next }: FoundRuns = findRuns(store, bench, { ...choice, limit: 200, before });
    yield* runs;
    before = next;
  }
}

const fits = ({ state, result }: RunFacts, wanted: RunsChoice['result']): boolean => wanted === undefined || (wanted === 'open' ? state === 'open' : result === wanted);

/** The choice as the index takes it: only what was given. The result is looked at afterwards, for the index has the sealed verdict. */
function given({ order, serial, hose, plan, text, from, to }: RunsChoice) {
  return Object.fromEntries(Object.entries({ order, serial, hose, plan, text, from, to }).filter(([, value]) => value !== undefined && value !== ''));
}

function foundRun(store: StoreReader, facts: RunFacts): FoundRun {
  const { run, state, wall, length, result, sealed, plan, job } = facts;
  const story = state === 'open' ? null : runStory(store, run);
  const outcome = story?.judgement.outcome ?? null;
  return {
    run, state, wall, result, plan,
    length_s: length,
    sealed: sealed === result ? null : sealed,
    order: job?.order ?? null, customer: job?.customer ?? null, hose: job?.hose ?? null, operator: job?.operator ?? null,
    assemblies: job?.assemblies ?? [],
    retestOf: job?.retestOf ?? null,
    ...measuredIn(outcome),
    reason: outcome === null || result === 'pass' ? null : reasonOf(facts, outcome, story),
  };
}

/** The worst of the cycles. */
function measuredIn(outcome: Outcome | null): Pick<FoundRun, 'peak_bar' | 'drop_bar' | 'leak_bar_per_min'> {
  const most = (values: readonly (number | null)[] = []): number | null => values.reduce((worst, value) => (value === null || (worst !== null && worst >= value) ? worst : value), null);
  return {
    peak_bar: most(outcome?.cycles.map(({ peak }) => peak)),
    drop_bar: most(outcome?.cycles.map(({ drop }) => drop)),
    leak_bar_per_min: most(outcome?.cycles.map(({ leak }) => leak?.rate ?? null)),
  };
}

function reasonOf({ result, judged }: RunFacts, outcome: Outcome, story: RunStory | null): string | null {
  if (result === 'fail' && judged !== 'fail') return 'leakage was seen';
  const [first] = reasonsOf(outcome);
  return first === undefined || story === null ? null : sentenceOnRunClock(first, story.run.from, story.run.to ?? story.run.from);
}
