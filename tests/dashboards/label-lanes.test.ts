import { describe, expect, it } from 'vitest';
import { lanes, stacked } from '../../dashboards/shared/label-lanes.js';

describe('labels one below the other', () => {
  it('stay where they want to be as long as there is room', () => expect(stacked([20, 60, 40], 7, 14)).toEqual([20, 60, 40]));

  it('move down where they would touch, and never above the top', () => {
    expect(stacked([-3, 5, 40], 7, 14)).toEqual([7, 21, 40]);
    expect(stacked([30, 25], 0, 14)).toEqual([39, 25]);
  });

  it('are none where none are wanted', () => expect(stacked([], 0, 14)).toEqual([]));
});

it('labels side by side take the highest lane in which they do not touch, and none where all are taken', () => {
  const at = (x: number) => ({ x, width: 50 });
  expect(lanes([at(0), at(10), at(20), at(60)], 2, 4)).toEqual([0, 1, -1, 0]);
});
