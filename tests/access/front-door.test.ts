import { describe, expect, it } from 'vitest';
import { AttemptBrake, personRule } from '../../src/access/attempt-brake.js';
import { FrontDoor, lookingRule, workingRule } from '../../src/access/front-door.js';
import { Sessions } from '../../src/access/sessions.js';
import { nameOf, peopleOfTests, personOf, secrets } from './people-of-tests.js';

/** A door whose clock the test turns, ms. */
async function door() {
  const clock = { now: 1e6 };
  const people = await peopleOfTests();
  return { clock, people, door: new FrontDoor({ people, now: () => clock.now }) };
}
const minute = 60_000;

describe('signing in', () => {
  it('lets in who knows the secret, however the name is typed, and nobody else', async () => {
    const { door: front } = await door();
    const answer = await front.signIn('  j. DOE ', secrets.operator, 'here');
    expect(answer).toMatchObject({ is: 'in', person: { name: 'J. Doe', role: 'operator' } });
    if (answer.is !== 'in') return;
    expect(Buffer.from(answer.id, 'base64url')).toHaveLength(32);
    expect(front.whoHas(answer.id, false)).toEqual({ name: 'J. Doe', role: 'operator' });
    expect(front.whoHas(answer.id.toLowerCase(), false)).toBeNull();
    for (const [name, secret] of [['J. Doe', '480272'], ['Nobody', secrets.operator], ['J. Doe', secrets.engineer], ['', '']] as const) {
      expect(await front.signIn(name, secret, 'there')).toEqual({ is: 'wrong' });
    }
  });

  it('makes whoever guesses a name wait longer and longer, from whichever address, whether the name exists or not', async () => {
    for (const name of ['J. Doe', 'Nobody']) {
      const { door: front, clock } = await door();
      for (let i = 0; i <= personRule.free; i++) expect(await front.signIn(name, 'wrong', `address ${i}`)).toEqual({ is: 'wrong' });
      expect(await front.signIn(name, secrets.operator, 'another')).toEqual({ is: 'wait', seconds: 1 });
      const waits: number[] = [];
      for (let i = 0; i < 10; i++) {
        const answer = await front.signIn(name, 'wrong', `more ${i}`);
        if (answer.is === 'wait') {
          waits.push(answer.seconds);
          clock.now += answer.seconds * 1000;
          expect(await front.signIn(name, 'wrong', `more ${i}`)).toEqual({ is: 'wrong' });
        }
      }
      expect(waits).toEqual([1, 2, 4, 8, 16, 32, 64, 128, 256, 300]);
      clock.now += 300_000;
      expect((await front.signIn(name, secrets.operator, 'another')).is).toBe(name === 'J. Doe' ? 'in' : 'wrong');
    }
  });

  it('makes an address wait that tries many names, and does not forget because one of them was right', async () => {
    const { door: front } = await door();
    for (let i = 0; i <= 20; i++) await front.signIn(i === 10 ? 'J. Doe' : `name ${i}`, i === 10 ? secrets.operator : 'wrong', 'one');
    expect((await front.signIn('name 99', 'wrong', 'one')).is).toBe('wrong');
    expect((await front.signIn(nameOf('viewer'), secrets.viewer, 'one')).is).toBe('wait');
    expect((await front.signIn(nameOf('viewer'), secrets.viewer, 'two')).is).toBe('in');
  });

  it('counts attempts before it knows how they end, so that a hundred at once are no hundred guesses', async () => {
    const { door: front } = await door();
    const answers = await Promise.all(Array.from({ length: 100 }, () => front.signIn('J. Doe', 'wrong', 'one')));
    const taken = answers.filter(({ is }) => is === 'wrong').length;
    expect(taken).toBe(personRule.free + 1);
    expect(new Set(answers.map(({ is }) => is))).toEqual(new Set(['wrong', 'wait']));
  });

  it('lets only so many wait for their hash', async () => {
    const { door: front } = await door();
    const answers = await Promise.all(Array.from({ length: 40 }, (_, i) => front.signIn(`name ${i}`, 'wrong', `address ${i}`)));
    expect(answers.filter(({ is }) => is === 'busy')).toHaveLength(30);
  });

  it('forgets bounded: a flood of names does not fill the memory', () => {
    let now = 0;
    const brake = new AttemptBrake({ free: 0, first: 1000, most: 1000, forget: 1e6 }, () => now, 100);
    for (let i = 0; i < 1000; i++) brake.book(`name ${i}`);
    expect(brake.wait('name 0')).toBe(0);
    expect(brake.wait('name 999')).toBe(1000);
    now = 400;
    expect(brake.wait('name 999')).toBe(600);
  });
});

describe('staying signed in', () => {
  const signedIn = async (role: 'viewer' | 'operator') => {
    const all = await door();
    const answer = await all.door.signIn(nameOf(role), secrets[role], 'here');
    if (answer.is !== 'in') throw new Error(answer.is);
    const ends: string[] = [];
    all.door.onEnd(answer.id, (why) => ends.push(why));
    return { ...all, id: answer.id, ends };
  };

  it('ends an hour after the last thing that was done; looking on does not count', async () => {
    const { door: front, clock, id, ends } = await signedIn('operator');
    clock.now += workingRule.idle - 1;
    expect(front.whoHas(id, true)).not.toBeNull();
    for (let i = 0; i < 59; i++) {
      clock.now += minute;
      expect(front.whoHas(id, false)).not.toBeNull();
    }
    clock.now += minute;
    expect(front.whoHas(id, true)).toBeNull();
    expect(front.whoHas(id, true)).toBeNull();
    expect(ends).toEqual(['idle too long']);
  });

  it('ends after twelve hours whatever was done, by itself', async () => {
    const { door: front, clock, id, ends } = await signedIn('operator');
    for (let i = 0; i < 12 * 60 - 1; i++) {
      clock.now += minute;
      expect(front.whoHas(id, true)).not.toBeNull();
    }
    clock.now += minute;
    front.sweep();
    expect(ends).toEqual(['signed in too long']);
    expect(front.whoHas(id, false)).toBeNull();
  });

  it('a screen on the wall stays for a month', async () => {
    const { door: front, clock, id } = await signedIn('viewer');
    clock.now += lookingRule.most - 1;
    expect(front.whoHas(id, false)).toEqual({ name: 'Wall screen', role: 'viewer' });
    clock.now += 1;
    expect(front.whoHas(id, false)).toBeNull();
  });

  it('a new role holds at once; a new secret or a removal ends it', async () => {
    const { door: front, id, people, ends } = await signedIn('operator');
    const others = people.filter(({ role }) => role !== 'operator');
    const me = people.find(({ role }) => role === 'operator');
    if (me === undefined) throw new Error('nobody');
    front.use([...others, { ...me, role: 'viewer' }]);
    expect(front.whoHas(id, false)).toEqual({ name: 'J. Doe', role: 'viewer' });
    front.use([...others, await personOf('operator')]);
    expect(ends).toEqual(['no longer welcome']);
    expect(front.whoHas(id, false)).toBeNull();
    const again = await front.signIn('J. Doe', secrets.operator, 'here');
    front.use(others);
    expect(again.is === 'in' && front.whoHas(again.id, false)).toBeNull();
  });

  it('keeps no id: what lies in memory opens nothing', () => {
    const sessions = new Sessions<string>(() => ({ idle: 1e9, most: 1e9 }), () => 0, 3);
    const ids = ['a', 'b', 'c'].map((of) => sessions.begin(of));
    expect(new Set(ids).size).toBe(3);
    const ended: string[] = [];
    for (const id of ids) sessions.onEnd(id, (why) => ended.push(why));
    sessions.begin('d');
    expect(sessions.size).toBe(3);
    expect(ended).toEqual(['too many']);
  });
});
