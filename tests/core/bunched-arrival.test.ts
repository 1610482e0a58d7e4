import { describe, expect, it } from 'vitest';
import { testPlaylist } from '../../simulators/scenarios/playlists.js';
import { run as runOf } from '../../simulators/run-scenario.js';
import { randomFor } from '../../simulators/random.js';
import { judge } from '../../src/core/judge.js';
import { unhurried } from '../integration/unhurried.js';

/**
 * The same readings on a host that stops listening now and then: what was sent meanwhile arrives at once, 20 us apart,
 * when it listens again. Stops of up to `longest` s, `often` a second.
 */
function bunched(time: Float64Array, longest: number, often: number, seed: number): Float64Array {
  const random = randomFor('late', seed);
  const pause = () => -Math.log(1 - random.between(0, 1)) / often;
  const late = Float64Array.from(time);
  let next = (time[0] ?? 0) + pause();
  let until = -Infinity;
  for (let i = 0; i < late.length; i++) {
    const sent = time[i] ?? 0;
    if (sent >= next) {
      until = sent + random.between(0, longest);
      next = until + pause();
    }
    late[i] = Math.max(sent, until, i > 0 ? (late[i - 1] ?? 0) + 2e-5 : -Infinity);
  }
  return late;
}

describe('readings that arrive late and in bunches', () => {
  const scenario = testPlaylist.find(({ name }) => name === 'live-three-cycles');
  if (scenario === undefined) throw new Error('no such scenario');
  const run = runOf(unhurried(scenario), 1);

  it.each([
    ['a third of a second, every other second', 0.3, 0.5],
    ['over a second, every fifth second', 1.2, 0.2],
  ])('do not cut a hold short that was watched to its end: %s', (_, longest, often) => {
    for (let seed = 1; seed <= 25; seed++) {
      const time = bunched(run.samples.time, longest, often, seed);
      const outcomes = judge({ ...run.samples, time }, run.plan, run.thresholds);
      const cut = outcomes.flatMap(({ findings }) => findings.filter(({ rule, outcome }) => outcome !== 'met' && (rule === 'hold' || rule === 'cycles')));
      expect([seed, outcomes.length, cut.map(({ sentence }) => sentence)]).toEqual([seed, 1, []]);
      for (const cycle of outcomes[0]?.cycles ?? []) expect((cycle.holdEnd ?? 0) - (cycle.settled ?? 0)).toBeGreaterThanOrEqual(run.plan.holdTime - 0.03);
    }
  });

  it.each([
    ['live-never-reached', 'inconclusive'],
    ['live-vent-early', 'inconclusive'],
  ])('make no burst of a vent: %s', (name, verdict) => {
    const vented = testPlaylist.find((one) => one.name === name);
    if (vented === undefined) throw new Error('no such scenario');
    const { samples, plan, thresholds } = runOf(unhurried(vented), 1);
    for (let seed = 1; seed <= 40; seed++) {
      const outcomes = judge({ ...samples, time: bunched(samples.time, 1.2, 0.4, seed) }, plan, thresholds);
      const bursts = outcomes.flatMap(({ events }) => events.filter(({ kind }) => kind === 'burst'));
      expect([seed, outcomes.map((outcome) => outcome.verdict), bursts]).toEqual([seed, [verdict], []]);
    }
  });

  it('never make a pass of a burst', () => {
    const lost = testPlaylist.find((one) => one.name === 'live-burst');
    if (lost === undefined) throw new Error('no such scenario');
    const { samples, plan, thresholds } = runOf(unhurried(lost), 1);
    const verdicts = Array.from({ length: 40 }, (_, i) => judge({ ...samples, time: bunched(samples.time, 1.2, 0.4, i + 1) }, plan, thresholds).map(({ verdict }) => verdict).join());
    expect(verdicts.filter((verdict) => verdict === 'fail').length).toBeGreaterThanOrEqual(36);
    expect(verdicts.filter((verdict) => verdict !== 'fail' && verdict !== 'inconclusive')).toEqual([]);
  });
});
