import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import { textLine } from '../records/text-line.js';
import { roles, type Role } from './roles.js';
import { isSecretHash } from './secret-hash.js';

/** Names under which the program itself writes entries. */
export const ownNames = ['file on disk', 'retention', 'nobody'];

/** Longest name of a person, characters. */
export const longestName = 60;

/** Two names that look alike are the same person: case, width of letters and blanks do not count. */
export const foldedName = (name: string): string => name.normalize('NFKC').trim().replaceAll(/\s+/g, ' ').toLowerCase();

const name = textLine(longestName)
  .min(1, { error: 'is empty; a person needs a name' })
  .refine((text) => !ownNames.includes(foldedName(text)), { error: 'is a name that the program itself uses; choose another' });

const person = z.strictObject({
  name,
  role: z.enum(roles, { error: `should be one of ${roles.join(', ')}` }),
  // What stands here may be a secret that somebody typed in clear: no sentence may repeat it.
  secret: z.custom<string>((text) => typeof text === 'string' && isSecretHash(text), { error: "is no hash of a secret; never write a secret in here: 'dwellkeeper people change NAME --secret' makes the hash" }),
});

const file = z.strictObject({ people: z.array(person, { error: 'should be a list of people' }).min(1, { error: 'should list at least one person' }) });

const keys = ['people', 'name', 'role', 'secret'];

/** Somebody who may sign in. */
export interface KnownPerson {
  readonly name: string;
  readonly role: Role;
  /** scrypt hash, see `secret-hash.ts`. */
  readonly secret: string;
}

/** Checks the name of a person. @throws InputError */
export function parseName(input: unknown, source: string): string {
  const found = name.safeParse(input);
  if (!found.success) throw new InputError(source, problemsOf(found.error, input, []).map(({ text }) => ({ place: 'name', text })));
  return found.data;
}

/** Checks what was read from a people file. @throws InputError that never repeats a secret */
export function parsePeople(input: unknown, source: string): readonly KnownPerson[] {
  const found = file.safeParse(input);
  if (!found.success) throw new InputError(source, problemsOf(found.error, input, keys));
  const { people } = found.data;
  const twice = people.findIndex((one, i) => people.findIndex((other) => foldedName(other.name) === foldedName(one.name)) < i);
  if (twice >= 0) throw new InputError(source, [{ place: `people.${twice}.name`, text: `'${people[twice]?.name}' is listed twice` }]);
  return people;
}

/** The person of that name, however it is typed. */
export const personNamed = (people: readonly KnownPerson[], typed: string): KnownPerson | undefined => people.find(({ name: known }) => foldedName(known) === foldedName(typed));
