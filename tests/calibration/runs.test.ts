import { describe, expect, it } from 'vitest';
import { figuresOf } from '../../src/calibration/figures.js';
import { levelsOf, runsOf, type Point } from '../../src/calibration/runs.js';

/** Points in the order of the text: `0 100 200*` with the error of each behind a colon. */
const points = (text: string, directions?: string): Point[] =>
  text.split(' ').map((part, i) => {
    const [reference = NaN, error = 0] = part.split(':').map(Number);
    const direction = directions?.[i] === '+' ? 'up' : 'down';
    return { reference, reading: reference + error, line: i + 2, ...(directions === undefined ? {} : { direction }) };
  });
const told = (taken: readonly Point[]): string[] => runsOf(taken).map((run) => `${run.direction} ${run.points.map((p) => p.reference).join(' ')}`);

describe('runs', () => {
  it.each([
    ['up and down, the top taken twice', '0 100 200 300 300 200 100 0', ['up 0 100 200 300', 'down 300 200 100 0']],
    ['up and down, the top taken once', '0 100 200 300 200 100 0', ['up 0 100 200 300', 'down 200 100 0']],
    ['two rises, with nothing on the way back', '0 100 200 300 0 100 200 300', ['up 0 100 200 300', 'up 0 100 200 300']],
    ['two whole series', '0 100 200 200 100 0 0 100 200 200 100 0', ['up 0 100 200', 'down 200 100 0', 'up 0 100 200', 'down 200 100 0']],
    ['each level taken three times', '0 0 0 100 100 100 200 200 200', ['up 0 0 0 100 100 100 200 200 200']],
    ['references that are not quite the same', '0 100 199.8 200.3 100.4 0', ['up 0 100 199.8', 'down 200.3 100.4 0']],
    ['a mixed order', '0 300 100 200 50 250', []],
  ])('%s', (_what, text, runs) => expect(told(points(text))).toEqual(runs));

  it('are taken from the column where the file has one', () => {
    expect(told(points('200 100 0 0 100 200', '---+++'))).toEqual(['down 200 100 0', 'up 0 100 200']);
    expect(told(points('0 100 200 0 100 200', '++++++'))).toEqual(['up 0 100 200', 'up 0 100 200']);
  });
});

describe('levels', () => {
  it('gather what lies within half a percent of the span', () => {
    expect(levelsOf(points('0 100 199.8 200.3 100.4 0')).map((level) => level.points.length)).toEqual([2, 2, 2]);
  });
});

describe('figures, in % of a span of 200', () => {
  const of = (text: string) => {
    const taken = points(text);
    return figuresOf(taken, runsOf(taken), 200);
  };

  it('hysteresis is the width of the loop where it is widest', () => {
    expect(of('0:0 100:0 200:0 200:0 100:0.6 0:0').hysteresis).toBeCloseTo(0.3, 12);
    expect(of('0:0 100:0.6 200:0 200:0 100:0 0:0').hysteresis).toBeCloseTo(0.3, 12);
  });

  it('is averaged over the series, up and down of one series belonging together', () => {
    expect(of('0:0 100:0 200:0 200:0 100:0.6 0:0 0:0 100:0 200:0 200:0 100:0.2 0:0').hysteresis).toBeCloseTo(0.2, 12);
  });

  it('repeatability is the spread of runs in the same direction alone', () => {
    expect(of('0:0 100:0.1 200:0 0:0 100:0.5 200:0').repeatability).toBeCloseTo(0.2, 12);
    expect(of('0:0 100:0.1 200:0 200:0 100:0.9 0:0').repeatability).toBeNull();
  });

  it('non-linearity is the distance from the best straight line, which a slope or a shift does not touch', () => {
    // Errors 0, 0.3, 0: the best line lies at 0.1, the middle 0.2 above it.
    expect(of('0:0 100:0.3 200:0').nonLinearity).toBeCloseTo(0.1, 12);
    expect(of('0:1 100:2.3 200:3').nonLinearity).toBeCloseTo(0.1, 12);
    expect(of('0:1 100:2 200:3').nonLinearity).toBeCloseTo(0, 12);
  });

  it('says nothing where the points cannot tell', () => {
    expect(of('0:0 200:0')).toEqual({ hysteresis: null, nonLinearity: null, repeatability: null });
  });
});
