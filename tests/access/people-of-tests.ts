import { hashSecret } from '../../src/access/secret-hash.js';
import type { KnownPerson } from '../../src/access/people.js';
import type { Role } from '../../src/access/roles.js';

/** People of the invented workshop; their secrets are hashed as cheaply as is allowed. */
export const secrets = { viewer: 'look-only-1', operator: '480271', engineer: 'brass ferrule nineteen' } as const;
const names: Readonly<Record<Role, string>> = { viewer: 'Wall screen', operator: 'J. Doe', engineer: 'E. Lindqvist' };

export const cheap = { ln: 10, r: 8, p: 1 } as const;

export const personOf = async (role: Role, secret: string = secrets[role], name = names[role]): Promise<KnownPerson> => ({ name, role, secret: await hashSecret(secret, cheap) });

export const peopleOfTests = async (): Promise<KnownPerson[]> => Promise.all((['viewer', 'operator', 'engineer'] as const).map((role) => personOf(role)));

export const nameOf = (role: Role): string => names[role];
