import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { parsePlan } from '../../src/core/plan.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import type { Mark } from '../../src/core/trace.js';
import { TraceBuilder } from '../traces.js';

const plan = parsePlan({ plan: 'doubts', testPressure: '690 bar', holdTime: '30 s', minimumPressure: '680 bar', ceilingPressure: '735 bar' }, 'plan');
const { trace } = new TraceBuilder(0.1, 0.05)
  .level(15, 0).ramp(20, 0, 720)
  .shape(60, (t) => 718 + 2 * Math.exp(-t / 5))
  .shape(4, (t) => 718 * (1 - t / 4) ** 2).level(6, 0);
const judged = (...marks: Mark[]) => judge({ ...trace, marks }, plan, standardThresholds)[0];
const doubt = (time: number): Mark => ({ time, kind: 'doubt', text: 'The two transducers disagree' });

describe('a doubt that the acquisition put into the trace', () => {
  it('leaves an otherwise passing run inconclusive, and says why and when', () => {
    expect(judged()?.verdict).toBe('pass');
    const outcome = judged(doubt(60));
    expect(outcome?.verdict).toBe('inconclusive');
    expect(outcome?.findings.find(({ rule }) => rule === 'data')).toMatchObject({ outcome: 'undecided', at: 60, sentence: 'The two transducers disagree.' });
  });
  it('is of no account outside a run', () => {
    expect(judged(doubt(5))?.verdict).toBe('pass');
    expect(judged(doubt(200))?.verdict).toBe('pass');
  });
  it('a thousand of them are a few sentences', () => {
    const outcome = judged(...Array.from({ length: 1000 }, (_, i) => doubt(50 + i / 100)));
    expect(outcome?.findings.find(({ rule }) => rule === 'data')?.sentence.length).toBeLessThan(1000);
  });
});
