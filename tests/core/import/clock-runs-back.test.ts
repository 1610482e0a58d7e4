import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { runScenario } from '../../../simulators/run-scenario.js';
import { csvOf } from '../../../simulators/trace-csv.js';
import { importTrace } from '../../../src/core/import/import-trace.js';
import { judge } from '../../../src/core/judge.js';
import { parsePlan } from '../../../src/core/plan.js';
import { standardThresholds } from '../../../src/core/thresholds.js';

const header = 'time_s,pressure_bar\n';
const read = (rows: readonly (readonly [number, number])[]) => importTrace(`${header}${rows.map((row) => row.join(',')).join('\n')}\n`, 'log.csv');
const rising = (count: number, from = 0): [number, number][] => Array.from({ length: count }, (_, i) => [from + i, 1.5]);

describe('a time that runs back', () => {
  it('by more than a second begins a new stretch behind the old one, with a mark', () => {
    const { trace, report } = read([...rising(4), ...rising(3)]);
    expect([...trace.time]).toEqual([0, 1, 2, 3, 13, 14, 15]);
    expect(trace.marks).toMatchObject([{ time: 13, kind: 'device-restart' }]);
    expect(report.notes).toEqual(['the clock of the file runs back from 3 s to 0 s (sample 5); how long the pause was is not known, 10 s are put in its place']);
  });

  it('and again counts on from there', () => {
    expect([...read([...rising(3), ...rising(3), ...rising(3)]).trace.time]).toEqual([0, 1, 2, 12, 13, 14, 24, 25, 26]);
  });

  it('in an odd file of another program does the same', () => {
    const { trace } = importTrace('Zeit [s];Druck [bar]\n0;1,5\n1;1,5\n2;1,5\n0;1,5\n1;1,5\n2;1,5\n', 'log.csv');
    expect([...trace.time]).toEqual([0, 1, 2, 12, 13, 14]);
    expect(trace.marks).toHaveLength(1);
  });

  it('on a calendar clock that was set back does the same', () => {
    const { trace } = importTrace('timestamp,pressure_bar\n2026-10-25T02:59:58,1.5\n2026-10-25T02:59:59,2.5\n2026-10-25T02:00:00,3.5\n2026-10-25T02:00:01,4.5\n', 'log.csv');
    expect([...trace.time]).toEqual([0, 1, 11, 12]);
  });

  it('once, among others that go on, is left as it is', () => {
    const { trace, report } = read([[10, 1], [11, 1], [3, 1], [12, 1], [13, 1]]);
    expect([...trace.time]).toEqual([10, 11, 3, 12, 13]);
    expect(report.notes).toEqual([]);
  });

  it('by less than a second is left as it is', () => {
    expect([...read([[10, 1], [10.5, 1], [10.2, 1], [10.3, 1], [11, 1]]).trace.time]).toEqual([10, 10.5, 10.2, 10.3, 11]);
  });

  it('throughout is refused', () => {
    expect(() => read(rising(20).reverse())).toThrow('log.csv: time runs backward throughout: from 19 s to 0 s; the earliest sample should come first');
  });

  it('again and again is refused', () => {
    expect(() => read(Array.from({ length: 90 }, (_, i): [number, number] => [i % 3 * 10, 1]))).toThrow(/^log\.csv: time runs back by more than 1 s in 29 of 90 samples; it should only run forward: /);
  });

  it('shows the run behind it: a recording that was added to another is judged too', () => {
    const good = runScenario('pass-plain', 1);
    const text = csvOf(good.samples, good.setup.transducer);
    // The same run with a loss of 1 bar/s from the middle of its hold on.
    const lost = text.slice(header.length).split('\n').map((row) => {
      const [time = '', pressure = ''] = row.split(',');
      return Number(time) > 60 && Number(pressure) > 300 ? `${time},${(Number(pressure) - (Number(time) - 60)).toFixed(2)}` : row;
    });
    const outcomes = judge(importTrace(text + lost.join('\n'), 'log.csv').trace, parsePlan(parse(good.planText), 'plan.yaml'), standardThresholds);
    expect(outcomes.map(({ verdict }) => verdict)).toEqual(['pass', 'fail']);
  });
});
