import { describe, expect, it } from 'vitest';
import { ChangeHistory } from '../../../dashboards/tuning/change-history.js';
import { planFor, planIn, planProblems, planText } from '../../../dashboards/tuning/plan-values.js';
import { ReadingDesk } from '../../../dashboards/tuning/reading-desk.js';
import type { FromReader, LoadedRun } from '../../../dashboards/tuning/reading-messages.js';
import { changesOf, countOf, trialOf } from '../../../dashboards/tuning/trial-changes.js';
import { judge } from '../../../src/core/judge.js';
import { editText } from '../../../src/library/edit-text.js';
import { planKind } from '../../../src/library/setting-kind.js';
import { canonicalJson } from '../../../src/records/canonical-json.js';
import { runScenario } from '../../../simulators/run-scenario.js';

const text = `# the shop's own
plan: two-wire proof
testPressure: 550 bar
holdTime: 60 s # as agreed
maximumDrop: 2 %
riseRate: { maximum: 100 bar/s }
`;
const fields = planKind.fields.map((field) => ({ ...field, written: null }));

describe('a plan on trial', () => {
  it('changed on the page means what the library would save', () => {
    const all = [
      { testPressure: '560 bar' }, { holdTime: '45 s', maximumDrop: '' }, { 'riseRate.maximum': '' }, { 'riseRate.minimum': '2 bar/s' }, { cycles: '3', allowTopUp: 'true', decisionRule: 'guarded' },
      { minimumPressure: '7500 psi' }, {},
    ];
    for (const changes of all) expect(planIn(planText(text, fields, changes))).toEqual(planIn(editText(planKind, text, changes)));
    expect(planText(text, fields, { testPressure: '560 bar' })).toContain("# the shop's own");
  });

  it('that is not right is told field by field', () => {
    expect(planProblems(text)).toEqual([]);
    expect(planProblems(planText(text, fields, { testPressure: '550', ceilingPressure: '600 bar' }))).toEqual([{ place: 'testPressure', text: "'550' has no unit; write for example '550 bar'" }]);
    expect(planProblems(planText(text, fields, { ceilingPressure: '500 bar' }))[0]).toMatchObject({ place: 'ceilingPressure', text: expect.stringContaining('not above the test pressure') as string });
    expect(planProblems(planText(text, fields, { cycles: 'three' }))[0]?.place).toBe('cycles');
  });

  it('takes the place of the plan of its own name only, unless it is tried on all', () => {
    const [own, other] = [planIn(text), planIn(text.replace('two-wire', 'four-wire'))];
    const tried = planIn(planText(text, fields, { holdTime: '30 s' }));
    const trial = { plan: tried, of: 'two-wire proof' };
    expect([planFor(own, trial), planFor(other, trial), planFor(null, trial), planFor(own, null)]).toEqual([tried, other, null, own]);
    expect([planFor(other, { ...trial, of: null }), planFor(null, { ...trial, of: null })]).toEqual([tried, tried]);
  });

  it('and thresholds are undone in the order in which they were changed', () => {
    const history = new ChangeHistory();
    history.set('spikeHeight', '2 %');
    history.replace(changesOf({ ...trialOf(history.now), planKey: 'two-wire', plan: {} }));
    history.replace(changesOf({ ...trialOf(history.now), plan: { holdTime: '30 s', 'riseRate.maximum': '' } }));
    history.set('gap', '2 s');
    const now = trialOf(history.now);
    expect(now).toEqual({ thresholds: { spikeHeight: '2 %', gap: '2 s' }, planKey: 'two-wire', plan: { holdTime: '30 s', 'riseRate.maximum': '' } });
    expect(countOf(now)).toBe(4);
    history.undo();
    history.undo();
    expect(trialOf(history.now)).toEqual({ thresholds: { spikeHeight: '2 %' }, planKey: 'two-wire', plan: {} });
    history.undo();
    expect(trialOf(history.now)).toEqual({ thresholds: { spikeHeight: '2 %' }, planKey: null, plan: {} });
    history.redo();
    expect(trialOf(history.now).planKey).toBe('two-wire');
  });

  it('is read by the worker as judge reads it', () => {
    const { samples, plan, thresholds } = runScenario('live-pass', 1);
    const sent: FromReader[] = [];
    const desk = new ReadingDesk((message) => sent.push(message));
    const run: LoadedRun = { id: 'a', trace: { ...samples, time: Float64Array.from(samples.time), pressure: Float64Array.from(samples.pressure) }, plan, own: thresholds, instrument: null, recorded: null };
    desk.take({ kind: 'hold', run });
    const tried = { ...plan, maximumDrop: { kind: 'fraction', value: 0.0001 } as const };
    for (const of of [plan.plan, 'another']) {
      desk.take({ kind: 'read', ticket: 1, id: 'a', thresholds, trial: { plan: tried, of } });
      while (desk.step());
    }
    const [own, other] = sent.map((message) => (message.kind === 'read' ? message : null));
    expect(canonicalJson(own?.after.map(({ outcome }) => outcome))).toBe(canonicalJson(judge(samples, tried, thresholds)));
    expect([own?.change.before.verdict, own?.change.after.verdict, other?.change.concern]).toEqual(['pass', 'fail', 'none']);
  });
});
