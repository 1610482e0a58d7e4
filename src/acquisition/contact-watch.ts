import type { ContactReading, FaultReading, Reading } from '../../drivers/driver.js';
import type { ContactInput } from './contact-settings.js';

/** s of faults in place of readings before a switch counts as lost: one missing answer says nothing. */
const patience = 2;

/** The switches of one link: what changes, and what can no longer be read. */
export class ContactWatch {
  readonly #states = new Map<ContactInput['contact'], ContactReading['state']>();
  /** s, when a switch was last read. */
  readonly #seen = new Map<ContactInput['contact'], number>();

  constructor(private readonly inputs: readonly ContactInput[]) {}

  /** A switch that the instrument names itself. @returns it where it is news */
  hear(reading: ContactReading): ContactReading | null {
    this.#seen.set(reading.contact, reading.time);
    if (this.#states.get(reading.contact) === reading.state) return null;
    this.#states.set(reading.contact, reading.state);
    return reading;
  }

  /** A value of the link. @returns the switches that it moved */
  read({ channel, time, value }: Reading): ContactReading[] {
    return this.inputs.flatMap((input) => {
      const state = input.value === channel ? input.states[value === 0 ? 0 : 1] : undefined;
      return state === undefined ? [] : (this.hear({ kind: 'contact', time, contact: input.contact, state }) ?? []);
    });
  }

  /** A value of the link did not come. @returns the switches that are lost by now, each once */
  missed({ channel, time }: FaultReading): ContactInput['contact'][] {
    return this.inputs.flatMap(({ value, contact }) => {
      if (value !== channel || !this.#states.has(contact) || time - (this.#seen.get(contact) ?? time) < patience) return [];
      this.#states.delete(contact);
      return [contact];
    });
  }

  /** The link is gone. @returns the switches that were known until now; their next reading is news again */
  lost(): ContactInput['contact'][] {
    const known = [...this.#states.keys()];
    this.#states.clear();
    return known;
  }
}
