/** Questions without an answer in a row after which a slave is asked less often. */
const patience = 3;
/** s between two questions to a slave that is silent. */
const rest = 1;

/** On a line of several slaves one that is switched off must not slow the others down: it is asked once a second only. */
export class SlaveRest {
  readonly #silent = new Map<number, { times: number; until: number }>();

  /** @param slaves how many there are on the line; a single one is never rested */
  constructor(private readonly slaves: number) {}

  rests(unitId: number, time: number): boolean {
    return time < (this.#silent.get(unitId)?.until ?? -Infinity);
  }

  answered(unitId: number): void {
    this.#silent.delete(unitId);
  }

  silent(unitId: number, time: number): void {
    const times = (this.#silent.get(unitId)?.times ?? 0) + 1;
    this.#silent.set(unitId, { times, until: this.slaves > 1 && times >= patience ? time + rest : -Infinity });
  }
}
