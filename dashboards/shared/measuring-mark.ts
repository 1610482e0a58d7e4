/** Where measuring starts on a trace. A mouse that presses a button is no longer on the trace: so the next click there sets it. */
export class MeasuringMark {
  #at: number | null = null;
  #aiming = false;

  /** s; `null` where none is set. */
  get at(): number | null {
    return this.#at;
  }
  /** True while the next click on the trace sets the mark. */
  get aiming(): boolean {
    return this.#aiming;
  }
  get on(): boolean {
    return this.#aiming || this.#at !== null;
  }

  /** The button: aims, or takes everything back. */
  press(): void {
    this.#aiming = !this.on;
    this.#at = null;
  }

  /** The key: sets the mark at the reading line, or takes it back. */
  setOrClear(at: number): void {
    this.#at = this.#at === null ? at : null;
    this.#aiming = false;
  }

  /** A click on the trace. @returns whether it has set the mark */
  click(at: number): boolean {
    if (!this.#aiming) return false;
    this.#at = at;
    this.#aiming = false;
    return true;
  }
}
