import { say } from '../shared/page-parts.js';

/** Says how many lines of a list that scrolls lie below its edge, and goes there. Cut off without a word they would be missed. */
export class MoreBelow {
  constructor(
    private readonly list: HTMLElement,
    private readonly button: HTMLElement,
  ) {
    button.addEventListener('click', () => list.scrollBy({ top: Math.max(list.clientHeight - 24, 24) }));
    list.addEventListener('scroll', () => this.count());
    new ResizeObserver(() => this.count()).observe(list);
  }

  count(): void {
    const edge = this.list.getBoundingClientRect().bottom + 1;
    const cut = [...this.list.children].filter((line) => line.getBoundingClientRect().bottom > edge).length;
    this.button.hidden = cut === 0;
    say(this.button, `${cut} more below`);
  }
}
