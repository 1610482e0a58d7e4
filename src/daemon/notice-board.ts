import type { Notice } from '../server/bench-feed.js';
import type { NoticeNews } from './bench-listener.js';

const order: Readonly<Record<Notice['weight'], number>> = { alarm: 0, warning: 1, remark: 2 };
/** Notices shown at once; the least urgent are left out. */
const shownAtMost = 12;

/** What people should know at this moment. One notice a subject; a subject is cleared when it is over. */
export class NoticeBoard {
  private readonly notices = new Map<string, Notice>();

  constructor(private readonly changed: (news: NoticeNews) => void) {}

  /** Says something, or says it anew. */
  put(subject: string, weight: Notice['weight'], text: string): void {
    const before = this.notices.get(subject);
    if (before?.text === text && before.weight === weight) return;
    this.notices.set(subject, { weight, text });
    this.changed({ subject, weight, text });
  }

  clear(subject: string): void {
    const before = this.notices.get(subject);
    if (before === undefined) return;
    this.notices.delete(subject);
    this.changed({ subject, weight: before.weight, text: null });
  }

  /** Most urgent first, within one weight the oldest first. */
  list(): readonly Notice[] {
    return [...this.notices.values()].sort((a, b) => order[a.weight] - order[b.weight]).slice(0, shownAtMost);
  }
}
