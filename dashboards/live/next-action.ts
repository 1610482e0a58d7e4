import { leakSeen } from '../shared/verdict-looks.js';
import { ceilingPassed, decidedResult } from './decided.js';
import { lastRun, type LiveState } from './live-state.js';

export interface NextAction {
  readonly text: string;
  /** `stop`: something is wrong. */
  readonly weight: 'calm' | 'stop';
}

/** Above this share of the test pressure a bench counts as under pressure for the words on the page. */
const pressurised = 0.03;

/** s that it takes to see it, to stop the pump and for the water to come to rest: our own choice. */
const reaction = 3;

const calm = (text: string): NextAction => ({ text, weight: 'calm' });
const stop = (text: string): NextAction => ({ text, weight: 'stop' });

/** The one thing to do next, for the person at the bench. `shown` writes a pressure (bar) in the page's unit. */
export function nextAction(state: LiveState | null, stale: boolean, shown: (bar: number) => string): NextAction {
  if (state?.view == null || stale) return calm('Read the gauge at the bench. Treat it as under pressure until the gauge says otherwise.');
  const { view, setup, health } = state;
  const plan = setup.plan;
  const high = view.pressure === null || view.pressure > pressurised * (plan?.testPressure ?? 100);
  if (health?.lid === 'open' && high) return stop('Lid open under pressure: stand back, stop pumping, release the pressure from where you are safe.');
  if (view.pressure === null) return stop('No valid reading: stop pumping and read the gauge at the bench.');
  // A burst empties the bench in no time: what to do about it must outlast it.
  if (burstSeen(state)) {
    return stop(
      view.phase === 'vented' && !high
        ? 'Burst: pump off, vent left open. Take the burst assembly out, look at the others.'
        : 'Burst: stop pumping, vent the bench, keep the lid latched until it is vented.',
    );
  }
  const decided = view.phase === 'venting' ? null : decidedAction(state, high);
  if (decided !== null) return decided;
  const run = lastRun(state);
  const seen = run?.visual ?? null;
  switch (view.phase) {
    case 'vented':
      if (high) return calm('Some pressure still shows: lid latched until the gauge at the bench is down.');
      if (health?.lid === 'open') return calm('Mat on, lid shut and latched. Then raise the pressure.');
      if (view.verdict === 'pending' && view.cycle < view.cycles) return calm(`Vented between cycles: raise to ${shown(plan?.testPressure ?? 0)} again.`);
      if (view.verdict === 'pending') return calm('Bench vented. Wait for the verdict.');
      if (view.verdict === 'fail' && run?.verdict === 'fail' && ceilingPassed(run.reasons)) return stop('Bench vented. Overloaded: set all assemblies aside until a competent person has looked at them.');
      if (view.verdict !== null && leakSeen(seen)) return calm('Bench vented. Mark the assembly that leaked; retest alone what is in doubt.');
      if (view.verdict === 'fail') return calm('Bench vented. Find which assembly failed: retest each one alone.');
      if (view.verdict === 'pass' && seen !== null) return calm('Bench vented. Save or print the certificate, then the next job.');
      if (view.verdict === 'pass') return calm('Bench vented. Look at every assembly and note what you see.');
      if (view.verdict === 'inconclusive') return calm('Bench vented. Read why, then run the test again.');
      return calm(plan ? `Purge the air, lay the mat, latch the lid. Then raise to ${shown(plan.testPressure)}.` : 'No plan is set: choose one before the run.');
    case 'rising':
      if (plan?.ceiling != null && view.pressure > plan.ceiling) return stop(`Over the ceiling of ${shown(plan.ceiling)}: stop pumping.`);
      // Who is in the band stops, however quick the last stroke was.
      if (plan && view.pressure >= plan.reach) return calm('In the band: stop pumping and shut the valve.');
      if (plan?.ceiling != null && view.slope !== null && view.slope * reaction > plan.ceiling - view.pressure) {
        return calm(`Too fast: at this rate the ceiling of ${shown(plan.ceiling)} is passed within ${reaction} s. Pump slower.`);
      }
      return calm(plan ? `Raise to ${shown(plan.testPressure)}, then shut the valve.` : 'Raise to your test pressure, then shut the valve.');
    case 'settling':
      if (plan && view.pressure < plan.holdFloor) return calm(`Too low to hold: raise to ${shown(plan.testPressure)} again.`);
      return calm('Stop pumping, valve shut. Hands off while it settles.');
    case 'holding':
      if (view.holdLeft === 0) return calm('Hold done: vent the bench, lid latched until the gauge is down.');
      return calm('Hands off. Stay clear of the lid until the hold is done.');
    case 'venting':
      return calm('Keep the lid latched until the gauge is down.');
  }
}

/** A burst of the present run, or of the last one until the next begins. */
function burstSeen({ view, events, runs, session }: LiveState): boolean {
  if (view === null || (view.phase === 'rising' && view.runSince === null)) return false;
  const since = view.runSince ?? runs.find((run) => run.session === session)?.from ?? Number.NEGATIVE_INFINITY;
  return events.some(({ kind, at, unclear }) => kind === 'burst' && at >= since && (view.phase !== 'vented' || unclear !== true));
}

/** What to do where the run is decided although it goes on; `null` where it is not. */
function decidedAction({ view, setup, decided }: LiveState, high: boolean): NextAction | null {
  const result = decidedResult(decided);
  if (view === null || result === null) return null;
  if (view.phase === 'vented') return high ? null : calm(result === 'failed' ? 'Bench vented. The run has failed: leave it vented until the verdict stands.' : 'Bench vented. The run cannot pass: leave it vented until the verdict stands.');
  const ceiling = setup.plan?.ceiling ?? null;
  // While it is above, the words for this very moment come first.
  if (view.phase === 'rising' && ceiling !== null && view.pressure !== null && view.pressure > ceiling) return null;
  if (ceilingPassed(decided.map(({ text }) => text))) return stop('Ceiling passed: stop pumping, vent the bench, lid latched until the gauge is down.');
  if (result === 'failed') return stop('Failed: stop pumping, vent the bench, lid latched until the gauge is down.');
  return calm('This run cannot pass: vent the bench, lid latched until the gauge is down.');
}
