import type { Acquired, AcquiredSample } from '../acquisition/acquire.js';
import type { NoticeBoard } from './notice-board.js';

/** s that a word of the instrument or its driver stays on the board after it was last said. */
const staying = 30;
/** s of readings of which none can be used before people are told. */
const unusable = 3;

/** Keeps the board's notices on the links and their readings up to date. */
export class LinkNotices {
  private readonly said = new Map<string, number>();
  /** s, the last good reading of each channel, or the first since its link was opened. */
  private readonly lastGood = new Map<string, number>();

  constructor(
    private readonly board: NoticeBoard,
    /** True where a bench has one link or one channel: it needs no name then. */
    private readonly oneLink = true,
    private readonly oneChannel = true,
  ) {}

  hear(item: Acquired): void {
    switch (item.kind) {
      case 'state': {
        this.lastGood.clear();
        const subject = this.oneLink ? 'link' : `link ${item.link}`;
        if (item.state === 'live') this.board.clear(subject);
        else this.board.put(subject, item.state === 'connecting' || item.state === 'ended' ? 'warning' : 'alarm', this.oneLink ? item.text : `${item.link}: ${item.text}`);
        return;
      }
      case 'notice': {
        if (item.code === 'opened') return;
        const subject = this.oneLink ? item.code : `${item.code} ${item.link}`;
        this.said.set(subject, item.time);
        this.board.put(subject, item.code === 'poll-skipped' ? 'remark' : 'warning', this.oneLink ? item.text : `${item.link}: ${item.text}`);
        return;
      }
      case 'sample':
        this.sample(item);
        return;
      case 'mark':
      case 'contact-lost':
      case 'dropped':
        return;
    }
  }

  private sample(sample: AcquiredSample): void {
    const subject = this.oneChannel ? 'unusable' : `unusable ${sample.channel}`;
    if (sample.flags === 0) {
      this.lastGood.set(sample.channel, sample.time);
      this.board.clear(subject);
    } else {
      const since = this.lastGood.get(sample.channel) ?? sample.time;
      this.lastGood.set(sample.channel, since);
      if (sample.time - since > unusable) {
        const which = this.oneChannel ? 'readings' : `readings of ${sample.channel}`;
        this.board.put(subject, 'alarm', `${which} come, but none can be used: the last was '${sample.raw.trim()}'${sample.fault ? ` (${sample.fault})` : ''}`);
      }
    }
    for (const [code, time] of this.said) {
      if (sample.time - time <= staying) continue;
      this.said.delete(code);
      this.board.clear(code);
    }
  }
}
