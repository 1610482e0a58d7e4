import { describe, expect, it } from 'vitest';
import { NoticeBoard } from '../../src/daemon/notice-board.js';

describe('notice board', () => {
  it('shows the most urgent first, one notice a subject, and tells each change once', () => {
    let changes = 0;
    const board = new NoticeBoard(() => changes++);
    board.put('calibration', 'remark', 'calibration due in 3 days');
    board.put('store', 'alarm', 'not recording: disk full');
    board.put('link', 'warning', 'no data since 3 s');
    board.put('link', 'warning', 'no data since 3 s');
    board.put('link', 'warning', 'no data since 4 s');
    expect(board.list().map((notice) => notice.text)).toEqual(['not recording: disk full', 'no data since 4 s', 'calibration due in 3 days']);
    expect(changes).toBe(4);
    board.clear('store');
    board.clear('store');
    expect(board.list()[0]?.text).toBe('no data since 4 s');
    expect(changes).toBe(5);
  });

  it('is bounded and leaves out the least urgent', () => {
    const board = new NoticeBoard(() => undefined);
    for (let i = 0; i < 100; i++) board.put(`remark ${i}`, 'remark', `remark ${i}`);
    board.put('alarm', 'alarm', 'the lid is open');
    expect(board.list()).toHaveLength(12);
    expect(board.list()[0]?.text).toBe('the lid is open');
  });
});
