import { describe, expect, it } from 'vitest';
import type { Verdict } from '../../src/core/outcome.js';
import { assemblyResults, runResult } from '../../src/records/assembly-results.js';
import { visualWords, type VisualFinding } from '../../src/records/visual-finding.js';

type Seen = Omit<VisualFinding, 'kind'> | null;
const leak: Seen = { finding: 'leakage seen', leaks: [{ assembly: 'a2', at: 'crimp, end B' }] };
const vague: Seen = { finding: 'leakage seen', at: 'manifold' };
const serials = ['A1', 'A2', 'A3'];

describe('the result of each assembly', () => {
  it.each<[string, Verdict, string[], Seen, string[], Verdict]>([
    ['a pass is a pass for each', 'pass', serials, null, ['pass', 'pass', 'pass'], 'pass'],
    ['and stays one when nothing was seen', 'pass', serials, { finding: 'no leakage seen' }, ['pass', 'pass', 'pass'], 'pass'],
    ['not inspected changes nothing', 'pass', ['A1'], { finding: 'not inspected' }, ['pass'], 'pass'],
    ['a manifold that failed sends each to a test of its own', 'fail', serials, null, ['retest alone', 'retest alone', 'retest alone'], 'fail'],
    ['one alone has failed', 'fail', ['A1'], null, ['fail'], 'fail'],
    ['leakage seen fails that one whatever the pressure showed', 'pass', serials, leak, ['pass', 'fail', 'pass'], 'fail'],
    ['and is the only sure one where the manifold failed', 'fail', serials, leak, ['retest alone', 'fail', 'retest alone'], 'fail'],
    ['leakage where none can be named leaves all in doubt', 'pass', serials, vague, ['retest alone', 'retest alone', 'retest alone'], 'fail'],
    ['but one alone has failed', 'pass', ['A1'], vague, ['fail'], 'fail'],
    ['leakage on what the job no longer names leaves all in doubt', 'pass', ['A1', 'A3'], leak, ['retest alone', 'retest alone'], 'fail'],
    ['an undecided pressure stays undecided', 'inconclusive', serials, { finding: 'no leakage seen' }, ['inconclusive', 'inconclusive', 'inconclusive'], 'inconclusive'],
    ['and leakage is leakage', 'inconclusive', serials, leak, ['inconclusive', 'fail', 'inconclusive'], 'fail'],
    ['without a name it is the run itself', 'pass', [], null, ['pass'], 'pass'],
    ['which fails with it', 'pass', [], vague, ['fail'], 'fail'],
  ])('%s', (_says, verdict, assemblies, seen, results, whole) => {
    const found = assemblyResults(verdict, assemblies, seen);
    expect(found.map(({ result }) => result)).toEqual(results);
    expect(runResult(found)).toBe(whole);
  });

  it('never makes a run better than its pressure', () => {
    for (const seen of [null, leak, vague, { finding: 'no leakage seen' } as const, { finding: 'not inspected' } as const]) {
      for (const verdict of ['fail', 'inconclusive'] as const) expect(assemblyResults(verdict, serials, seen).map(({ result }) => result)).not.toContain('pass');
    }
  });

  it.each<[Exclude<Seen, null>, string]>([
    [{ finding: 'no leakage seen' }, 'no leakage seen'],
    [leak, 'leakage seen at a2 (crimp, end B)'],
    [{ finding: 'leakage seen', leaks: [{ assembly: 'A1' }], at: 'manifold' }, 'leakage seen at A1; manifold'],
    [{ finding: 'not inspected', at: '' }, 'not inspected'],
  ])('%j reads %s', (seen, words) => expect(visualWords(seen)).toBe(words));
});
