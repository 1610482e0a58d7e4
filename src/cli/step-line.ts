/** How far long work is, on stderr: rewritten in place on a terminal, a line now and then elsewhere. */
export class StepLine {
  private shownAt = performance.now();
  private shown = false;

  constructor(private readonly wanted: boolean) {}

  /** `text` is told when it is time again. */
  step(text: () => string): void {
    const now = performance.now();
    const terminal = process.stderr.isTTY === true;
    if (!this.wanted || now - this.shownAt < (terminal ? 200 : 5000)) return;
    this.shownAt = now;
    this.shown = terminal;
    process.stderr.write(terminal ? `\r\u001b[K${text()}` : `${text()}\n`);
  }

  /** Takes the line away before the result is printed. */
  end(): void {
    if (this.shown) process.stderr.write('\r\u001b[K');
  }
}
