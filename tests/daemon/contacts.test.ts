import { afterEach, describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { canonicalJson } from '../../src/records/canonical-json.js';
import { judgingBy } from './hand-bench.js';
import { ManifoldBench } from './manifold-bench.js';

/** Pump and vent contacts on the line of the transducer that is judged. */
const plan = { testPressure: '200 bar', holdTime: '10 s', minimumPressure: '190 bar', ceilingPressure: '230 bar' };
const input = {
  driver: 'serial-line', path: '/dev/low', firstLine: 'keep', pattern: '(?<value>\\S+) P(?<pump>[01])V(?<vent>[01])',
  contacts: { pump: { on: '1', off: '0' }, vent: { open: '1', closed: '0' } },
};
let bench: ManifoldBench;
afterEach(() => bench.clear());
const begin = (contacts = true) => (bench = new ManifoldBench(plan, contacts ? { low: { input } } : {}));
/** The run as the daemon showed it, before it stopped. */
let last: ReturnType<ManifoldBench['daemon']['feed']['recentRuns']>[number] | undefined;
const marks = () =>
  bench.stored((store) => {
    const low = store.channels.list().find(({ name }) => name === 'low');
    return store.traceWindow(low?.id ?? 0, -Infinity, Infinity).marks?.map(({ kind }) => kind);
  });

/** `seconds` at a pressure that goes from `from` to `to`, bar, with the contacts as they stand. */
function piece(seconds: number, from: number, to: number, contacts: string): void {
  bench.show(seconds, (share) => {
    const bar = from + (to - from) * share + 0.03 * Math.sin(97 * share * seconds);
    return { low: contacts === '' ? bar : `${bar.toFixed(2)} ${contacts}`, high: bar };
  });
}
/** A pressurisation in whose hold the pressure rises by 0.2 bar, which is less than a stroke. */
function risenInHold(contacts: boolean): void {
  const say = (text: string) => (contacts ? text : '');
  piece(3, 0, 0, say('P0V1'));
  piece(2, 0, 0, say('P0V0'));
  piece(10, 0, 203, say('P1V0'));
  piece(8, 203, 203, say('P0V0'));
  piece(1, 203, 203.2, say('P1V0'));
  piece(8, 203.2, 203.2, say('P0V0'));
  piece(1, 203.2, 0, say('P0V1'));
  piece(8, 0, 0, say('P0V1'));
  last = bench.daemon.feed.recentRuns(1)[0];
  bench.daemon.stop();
}

describe('contacts of pump and vent', () => {
  it('are in the trace, tell a small top-up, and a replay of the record says the same', () => {
    begin();
    risenInHold(true);
    expect(last).toMatchObject({ verdict: 'inconclusive', reasons: [expect.stringMatching(/Pressure was added during the hold, 0\.\d+ bar in one rise/) as string] });
    expect(marks()).toEqual(['vent-open', 'pump-off', 'vent-closed', 'pump-on', 'pump-off', 'pump-on', 'pump-off', 'vent-open', 'signal-lost']);
    const judging = judgingBy(plan);
    const run = bench.stored((store) => store.getRun(1));
    const again = bench.stored((store) => judge(store.traceWindow(run?.channel ?? 0, -Infinity, Infinity), judging.plan?.value ?? null, judging.thresholds.value, run?.instrument ?? {}));
    expect(canonicalJson(again)).toBe(canonicalJson([run?.outcome]));
  });
  it('are never required: the same pressures without them pass', () => {
    begin(false);
    risenInHold(false);
    expect(last).toMatchObject({ verdict: 'pass' });
  });
  it('are told to the pages; those that can no longer be read are marked as unknown', () => {
    begin();
    piece(3, 0, 0, 'P0V1');
    const told = () => Object.fromEntries((bench.daemon.feed.health().contacts ?? []).map(({ contact, state }) => [contact, state]));
    expect(told()).toEqual({ pump: 'off', vent: 'open' });
    piece(1, 0, 0, 'P1V0');
    expect(told()).toEqual({ pump: 'on', vent: 'closed' });
    bench.pull('/dev/low');
    expect(told()).toEqual({ pump: null, vent: null });
    bench.daemon.stop();
    expect(marks()).toEqual(expect.arrayContaining(['pump-off', 'vent-open', 'pump-unknown', 'vent-unknown']));
  });
});
