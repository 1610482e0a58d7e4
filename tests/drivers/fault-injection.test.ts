import { describe, expect, it } from 'vitest';
import { campaign } from './faults/campaign.js';
import { faultKinds } from './faults/faults.js';
import { subjects, type Subject } from './faults/subjects.js';

/** A few thousand faults; `npm run faults` injects far more and prints the figures. */
describe.each(subjects.map((subject) => [subject.name, subject] as const))('faults injected into %s', (_name, subject) => {
  const tally = campaign(subject, 600, 2);

  it('crash nothing, and leave no link, no timer and no lasting trouble behind', () => {
    expect(tally.errors).toEqual([]);
    expect(tally.faults).toBe(600);
    expect(Object.keys(tally.byKind).length).toBeGreaterThanOrEqual(faultKinds.length - 1);
    expect(tally.good).toBeGreaterThan(600);
  });
  it('are over within two periods of the instrument', () => expect(tally.slowest).toBeLessThanOrEqual(2 + 1e-9));
  it(subject.checked ? 'never make a wrong number' : 'make a wrong number seldom, where the line carries no checksum', () => {
    if (subject.checked) expect(tally.wrongBy).toEqual({});
    // Plain text cannot know: one digit for another is as good a number. Over 20,000 faults it is 4.4 % of them, and 0.9 % with a fixed width.
    else expect(tally.wrong / tally.faults).toBeLessThan('lineLength' in subject.input ? 0.03 : 0.1);
  });
  it('the same seed plays the same', () => expect(campaign(subject, 40, 7)).toEqual(campaign(subject, 40, 7)));
});

describe('the injection itself', () => {
  it('sees a number that the instrument did not say, whatever its checksum', () => {
    const [rtu] = subjects;
    if (rtu === undefined) throw new Error('no subject');
    const liar: Subject = {
      ...rtu,
      say: (question, value) => {
        const said = rtu.say(question, value);
        const lied = rtu.say(question, (channel) => value(channel) + 100);
        return said === null || lied === null ? null : { frame: lied.frame, values: said.values };
      },
    };
    expect(campaign(liar, 20, 1).wrong).toBeGreaterThan(0);
  });
});
