import type { Verdict } from '../core/outcome.js';

/** How far a long piece of work is, on stderr: rewritten in place on a terminal, a line now and then elsewhere. */
export class ProgressLine {
  private done = 0;
  private failed = 0;
  private unread = 0;
  private shownAt = 0;

  constructor(
    private readonly total: number,
    private readonly wanted: boolean,
  ) {}

  /** One more is done; `null` is one that could not be judged. */
  step(verdict: Verdict | null): void {
    this.done++;
    if (verdict === 'fail') this.failed++;
    if (verdict === null) this.unread++;
    const now = performance.now();
    if (!this.wanted || now - this.shownAt < (process.stderr.isTTY ? 200 : 5000)) return;
    this.shownAt = now;
    this.show(process.stderr.isTTY ? '\r' : '', process.stderr.isTTY ? '' : '\n');
  }

  end(): void {
    if (this.wanted) this.show(process.stderr.isTTY ? '\r' : '', '\n');
  }

  private show(before: string, after: string): void {
    const unread = this.unread > 0 ? `, ${this.unread} could not be judged` : '';
    process.stderr.write(`${before}${this.done} of ${this.total} judged, ${this.failed} fail${unread}${after}`);
  }
}
