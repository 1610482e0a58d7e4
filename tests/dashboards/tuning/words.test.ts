import { describe, expect, it } from 'vitest';
import { contradicts, inOrder, summaryOf, type FlipRow } from '../../../dashboards/tuning/flip-panel.js';
import { linesOf } from '../../../dashboards/tuning/library-stream.js';
import { LoadedTrace } from '../../../dashboards/tuning/loaded-trace.js';
import { comparedLines } from '../../../dashboards/tuning/outcome-panel.js';
import { readFiles } from '../../../dashboards/tuning/run-files.js';
import { concernWords, findingWords, onShownClock, ruleWords, sinceStart } from '../../../dashboards/tuning/run-words.js';
import { judge } from '../../../src/core/judge.js';
import { rules, type Verdict } from '../../../src/core/outcome.js';
import { standardThresholds } from '../../../src/core/thresholds.js';
import { traceOf } from '../../../src/core/trace.js';
import { concerns, runChange, type Concern } from '../../../src/tuning/run-change.js';
import { runScenario } from '../../../simulators/run-scenario.js';
import { csvOf } from '../../../simulators/trace-csv.js';

const told = (verdict: Verdict) => ({ ...runChange([], []).after, verdict });
const row = (id: string, concern: Concern, before: Verdict, after: Verdict, truth: FlipRow['truth'] = null): FlipRow => ({
  id, title: id, change: { concern, before: told(before), after: told(after), findings: [] }, truth, start: null, byThresholds: true,
});

describe('what would flip', () => {
  const rows = [
    row('a', 'none', 'pass', 'pass'), row('b', 'new fail', 'pass', 'fail'), row('c', 'new pass', 'inconclusive', 'pass'), row('d', 'findings', 'fail', 'fail'),
    row('e', 'new pass', 'fail', 'pass'), row('f', 'no longer decided', 'pass', 'inconclusive'), row('g', 'new pass', 'fail', 'pass', 'truly leaking'),
  ];

  it('comes with new passes first, and of those first what is known to leak', () => expect(inOrder(rows).map(({ id }) => id).join('')).toBe('gecbfda'));
  it('is summed up in a sentence', () => {
    expect(summaryOf(rows)).toBe('3 would pass now, 1 would fail now, 1 no longer decided, 1 with the same verdict and other findings or figures, 1 as before.');
    expect(summaryOf([])).toBe('');
  });
  it.each([['pass', 'truly leaking', true], ['fail', 'truly sound', true], ['pass', 'truly sound', false], ['inconclusive', 'truly leaking', false], ['pass', null, false]] as const)(
    '%s of what is %s is wrong: %s', (verdict, truth, wrong) => expect(contradicts(row('x', 'none', verdict, verdict, truth))).toBe(wrong));
  it('has words for everything', () => {
    for (const concern of concerns) expect(concernWords[concern]).toMatch(/^[A-Z]/);
    for (const rule of rules) expect(ruleWords[rule]).toMatch(/^[A-Z]/);
  });
});

describe('two outcomes side by side', () => {
  const { samples, plan, thresholds } = runScenario('live-pass', 1);
  const before = judge(samples, plan, thresholds);
  const after = judge(samples, plan, { ...thresholds, quietTime: 60 });

  it('differ first, each with what it says now', () => {
    const lines = comparedLines(before, after, 0, 'bar', null);
    const differing = lines.filter(({ differs }) => differs);
    expect(differing.length).toBeGreaterThan(2);
    expect(lines.slice(0, differing.length)).toEqual(differing);
    expect(differing.find(({ name }) => name === 'Hold time')).toMatchObject({ before: expect.stringMatching(/^met, /) as string, after: expect.stringMatching(/^undecided/) as string });
    expect(lines.map(({ name }) => name)).toEqual(expect.arrayContaining(['Settled at', 'Peak', 'Spikes', 'Strokes']));
  });
  it('that are the same do not differ, in any unit', () => {
    for (const unit of ['bar', 'MPa', 'psi'] as const) expect(comparedLines(before, before, 0, unit, null).filter(({ differs }) => differs)).toEqual([]);
    expect(comparedLines(before, before, 0, 'psi', null).find(({ name }) => name === 'Test pressure reached')?.before).toMatch(/^met, \d+(\.\d+)? psi$/);
  });
  it('show a run that is no longer found', () => expect(comparedLines(before, [], 0, 'bar', null).find(({ name }) => name === 'Ceiling')).toMatchObject({ after: 'not applied', differs: true }));
});

describe('small words', () => {
  it.each([[3.214, '3.21 s'], [42.26, '42.3 s'], [125.44, '2:05.4'], [3725, '1:02:05']] as const)('%d s after the start: %s', (s, words) => expect(sinceStart(100 + s, 100)).toBe(words));
  it('sentences of the record speak of the clock that the plot shows', () => {
    expect(onShownClock('The test pressure was reached at 742.1 s.', 730)).toBe('The test pressure was reached at 12.1 s.');
    expect(onShownClock('The steady loss is 5 bar/min; it lasted 0.5 s.', 0)).toBe('The steady loss is 5 bar/min; it lasted 0.5 s.');
    expect(onShownClock('at 1 s before', 30)).toBe('at 1 s before');
  });
  it('a finding without a number has none', () => {
    expect(findingWords(null, null, 'bar')).toBe('not applied');
    expect(findingWords({ measured: null, unit: 'bar' }, 'met', 'bar')).toBe('met');
    expect(findingWords({ measured: 551.2, unit: 'bar' }, 'broken', 'MPa')).toBe('broken, 55.12 MPa');
  });
});

describe('the trace on the plot', () => {
  it('has flagged readings as missing, tells gaps, and is in order of time', () => {
    const trace = new LoadedTrace();
    trace.take(traceOf([0, 1, 3, 2, 9, 10], [5, 6, 8, 7, 4, 3], [0, 0, 0, 8, 0, 0]), 1.5);
    expect([...trace.time]).toEqual([0, 1, 2, 3, 9, 10]);
    expect([...trace.pressure]).toEqual([5, 6, NaN, 8, 4, 3]);
    expect(trace.gaps).toEqual([{ from: 1, to: 3 }, { from: 3, to: 9 }]);
    expect(trace.indexAt(2.5)).toBe(3);
    trace.take(null, 1);
    expect([trace.end, trace.extent.from]).toEqual([0, NaN]);
  });
});

describe('traces from files', () => {
  const { samples, setup, planText } = runScenario('live-pass', 1);
  const file = (name: string, text: string) => ({ name, bytes: () => Promise.resolve(new TextEncoder().encode(text)) });
  const csv = csvOf(samples, setup.transducer);

  it('take their own plan, or the one that is there for all', async () => {
    const other = planText.replace(/^plan: .*$/m, 'plan: for all');
    const { runs, problems } = await readFiles([file('a.csv', csv), file('a.plan.yaml', planText), file('b.csv', csv), file('common.yaml', other)], standardThresholds);
    expect(problems).toEqual([]);
    expect(runs.map(({ id, plan }) => [id, plan?.plan === 'for all'])).toEqual([['a.csv', false], ['b.csv', true]]);
    expect(runs[0]?.trace.time.length).toBe(samples.time.length);
  });
  it.each([
    [[['a.csv', 'x']], 'a.csv: no plan for it'],
    [[['p.yaml', planText]], 'There is no trace among these files'],
    [[['a.csv', 'time_s,pressure_bar\n0,1\n1,2\n'], ['p.yaml', 'plan: [']], 'p.yaml: is not valid YAML'],
    [[['a.csv', 'time_s,pressure_bar\n0,1\n1,2\n'], ['p.yaml', 'plan: x\nholdTime: 60 s\n']], 'p.yaml: testPressure: is missing; it should be a number with its unit'],
    [[['a.csv', ''], ['p.yaml', planText]], 'a.csv: the file is empty'],
  ] as const)('%j: %s', async (files, sentence) => {
    const { runs, problems } = await readFiles(files.map(([name, text]) => file(name, text)), standardThresholds);
    expect(runs).toEqual([]);
    expect(problems.join('\n')).toContain(sentence);
  });
});

describe('lines of a long answer', () => {
  it('come whole, however they are cut', async () => {
    const bytes = new TextEncoder().encode('{"a":"ü"}\n\n{"a":2}\n{"a":3}');
    for (const size of [1, 3, 100]) {
      const body = new ReadableStream<Uint8Array>({
        start(to) {
          for (let i = 0; i < bytes.length; i += size) to.enqueue(bytes.slice(i, i + size));
          to.close();
        },
      });
      const lines: unknown[] = [];
      for await (const line of linesOf(new Response(body))) lines.push(line);
      expect(lines).toEqual([{ a: 'ü' }, { a: 2 }, { a: 3 }]);
    }
  });
});
