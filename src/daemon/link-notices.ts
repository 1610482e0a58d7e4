import type { Acquired } from '../acquisition/acquire.js';
import type { NoticeBoard } from './notice-board.js';

/** s that a word of the instrument or its driver stays on the board after it was last said. */
const staying = 30;
/** s of readings of which none can be used before people are told. */
const unusable = 3;

/** Keeps the board's notices on the link and its readings up to date. */
export class LinkNotices {
  private readonly said = new Map<string, number>();
  private lastGood: number | null = null;

  constructor(private readonly board: NoticeBoard) {}

  hear(item: Acquired): void {
    switch (item.kind) {
      case 'state':
        this.lastGood = null;
        if (item.state === 'live') this.board.clear('link');
        else this.board.put('link', item.state === 'connecting' || item.state === 'ended' ? 'warning' : 'alarm', item.text);
        return;
      case 'notice':
        if (item.code === 'opened') return;
        this.said.set(item.code, item.time);
        this.board.put(item.code, item.code === 'poll-skipped' ? 'remark' : 'warning', item.text);
        return;
      case 'sample':
        this.sample(item);
        return;
      case 'mark':
      case 'contact-lost':
      case 'dropped':
        return;
    }
  }

  private sample(sample: Extract<Acquired, { kind: 'sample' }>): void {
    if (sample.flags === 0) {
      this.lastGood = sample.time;
      this.board.clear('unusable');
    } else {
      this.lastGood ??= sample.time;
      if (sample.time - this.lastGood > unusable) {
        this.board.put('unusable', 'alarm', `readings come, but none can be used: the last was '${sample.raw.trim()}'${sample.fault ? ` (${sample.fault})` : ''}`);
      }
    }
    for (const [code, time] of this.said) {
      if (sample.time - time <= staying) continue;
      this.said.delete(code);
      this.board.clear(code);
    }
  }
}
