/** What somebody may do at a bench; each role may do all that the ones before it may. */
export const roles = ['viewer', 'operator', 'engineer'] as const;
export type Role = (typeof roles)[number];

/** What a route asks for: a role, or nothing at all. */
export type Needs = Role | 'anyone';

/** What each role may do, for people. */
export const roleWords: Readonly<Record<Role, string>> = {
  viewer: 'may look: live, runs, records, certificates',
  operator: 'may also key in jobs, say what was seen, ask for a retest, add remarks',
  engineer: 'may also change plans, thresholds, calibration and labels, and read who changed what',
};

export const mayDo = (has: Role, needs: Role): boolean => roles.indexOf(has) >= roles.indexOf(needs);

/** Whoever makes a request. */
export interface Person {
  /** `null`: at a bench without people, whoever sits at its computer; the name that is typed counts. */
  readonly name: string | null;
  readonly role: Role;
}

/** At a bench for which nobody is set up, whoever sits at its computer. */
export const unnamedEngineer: Person = { name: null, role: 'engineer' };
