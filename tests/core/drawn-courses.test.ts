import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { drawnRun, storyNames } from '../../simulators/drawn-courses/stories.js';

/**
 * A second opinion: traces drawn from formulas that share nothing with the simulated bench, 40 to 1500 bar, 5 to 500 Hz,
 * three kinds of pump. The courses are common practice, from memory; the verdicts follow from the plan's own limits, which each
 * course keeps or breaks by a wide margin. `npm run truth -- --drawn 100` judges many more.
 */
describe.each(storyNames)('a course drawn by hand: %s', (story) => {
  it.each([1, 2, 3, 4])('is judged as a careful engineer would (%d)', (seed) => {
    const { trace, plan, verdict } = drawnRun(story, seed);
    expect(judge(trace, plan, standardThresholds).map((o) => o.verdict)).toEqual([verdict]);
  });
});
