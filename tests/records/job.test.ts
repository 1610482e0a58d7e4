import { describe, expect, it } from 'vitest';
import { parseJob, retestOf, sameAgain } from '../../src/records/job.js';

const full = { order: ' 4711 ', customer: '', assemblies: 'A17-001..003', operator: 'J. Doe', remark: 'rush', retestOf: 4 };

describe('a job as it was keyed in', () => {
  it('is trimmed, its blanks left out, its ranges counted', () => {
    expect(parseJob(full)).toEqual({ order: '4711', assemblies: ['A17-001', 'A17-002', 'A17-003'], operator: 'J. Doe', remark: 'rush', retestOf: 4 });
    expect(parseJob({})).toEqual({});
    expect(parseJob({ assemblies: ['B1', 'B2'] })).toEqual({ assemblies: ['B1', 'B2'] });
  });

  it('the same once more leaves out what belongs to one run; a retest has one assembly and its run', () => {
    const job = parseJob(full);
    expect(sameAgain(job)).toEqual({ order: '4711', assemblies: ['A17-001', 'A17-002', 'A17-003'], operator: 'J. Doe' });
    expect(retestOf(job, 9, 'A17-002')).toEqual({ order: '4711', assemblies: ['A17-002'], operator: 'J. Doe', retestOf: 9 });
  });

  it.each<[unknown, string]>([
    [{ ordr: '1' }, "job: ordr: unknown key; did you mean 'order'?"],
    [{ order: 4711 }, 'job: order: 4711 should be a string'],
    [{ order: 'a\nb' }, 'job: order: should be one line without control characters'],
    [{ order: 'x'.repeat(201) }, 'job: order: should have 200 characters or fewer'],
    [{ retestOf: 1.5 }, 'job: retestOf: 1.5 should be an int'],
    [{ assemblies: ['A', 'a'] }, "job: assemblies: 'a' is named twice; each assembly should be named once"],
    [null, 'job'],
  ])('%j is refused: %s', (written, sentence) => expect(() => parseJob(written)).toThrow(sentence));
});
