import type { Scenario } from '../../simulators/scenario.js';

/**
 * The same run on a machine that has other things to do: the operator vents some seconds later, and readings that come
 * late are no gap before 3 s and no end of a run before 6 s. What happens on the bench, and with it the verdict, is the same.
 */
export const unhurried = (scenario: Scenario): Scenario => ({
  ...scenario,
  build: (random) => {
    const setup = scenario.build(random);
    const script = setup.bench.script.map((cycle) => (cycle.vent.when === 'after-hold' ? { ...cycle, vent: { ...cycle.vent, margin: 8 } } : cycle));
    return { ...setup, thresholds: { ...setup.thresholds, gap: '3 s', runEnd: '6 s' }, bench: { ...setup.bench, script } };
  },
});
