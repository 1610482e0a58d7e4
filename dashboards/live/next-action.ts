import { leakSeen } from '../shared/verdict-looks.js';
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
  const burst = state.events.some(({ kind, at }) => kind === 'burst' && view.runSince !== null && at >= view.runSince);
  if (health?.lid === 'open' && high) return stop('Lid open under pressure: stand back, stop pumping, release the pressure from where you are safe.');
  if (view.pressure === null) return stop('No valid reading: stop pumping and read the gauge at the bench.');
  if (burst && view.phase !== 'vented') return stop('Burst: stop pumping, vent the bench, keep the lid latched until it is vented.');
  const seen = lastRun(state)?.visual ?? null;
  switch (view.phase) {
    case 'vented':
      if (high) return calm('Some pressure still shows: lid latched until the gauge at the bench is down.');
      if (health?.lid === 'open') return calm('Mat on, lid shut and latched. Then raise the pressure.');
      if (view.verdict === 'pending' && view.cycle < view.cycles) return calm(`Vented between cycles: raise to ${shown(plan?.testPressure ?? 0)} again.`);
      if (view.verdict === 'pending') return calm('Bench vented. Wait for the verdict.');
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
