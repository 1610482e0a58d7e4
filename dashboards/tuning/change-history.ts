/** Thresholds that were changed, by key, as people write them: `{ spikeHeight: '1.2 %' }`. */
export type Changes = Readonly<Record<string, string>>;

/**
 * The changes as they stand, with what was before and after them. A gesture, such as a drag, is one step however many
 * values it went through.
 */
export class ChangeHistory {
  private past: Changes[] = [];
  private future: Changes[] = [];
  private gesture: string | null = null;

  constructor(private present: Changes = {}) {}

  get now(): Changes {
    return this.present;
  }

  get canUndo(): boolean {
    return this.past.length > 0;
  }

  get canRedo(): boolean {
    return this.future.length > 0;
  }

  /** Changes one threshold; `null` takes its change back. Steps of the same `gesture` that follow each other are one. */
  set(key: string, text: string | null, gesture: string | null = null): void {
    if ((this.present[key] ?? null) === text) return;
    const others = Object.fromEntries(Object.entries(this.present).filter(([other]) => other !== key));
    this.replace(text === null ? others : { ...others, [key]: text }, gesture);
  }

  /** Puts all changes in place of those that stand. */
  replace(next: Changes, gesture: string | null = null): void {
    if (gesture === null || gesture !== this.gesture) this.past.push(this.present);
    this.gesture = gesture;
    this.future = [];
    this.present = next;
  }

  /** The next step is a new one, even of the same name. */
  endGesture(): void {
    this.gesture = null;
  }

  undo(): boolean {
    return this.step(this.past, this.future);
  }

  redo(): boolean {
    return this.step(this.future, this.past);
  }

  private step(from: Changes[], to: Changes[]): boolean {
    const next = from.pop();
    if (next === undefined) return false;
    to.push(this.present);
    this.present = next;
    this.gesture = null;
    return true;
  }
}
