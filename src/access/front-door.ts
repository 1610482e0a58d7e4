import { randomBytes } from 'node:crypto';
import { AttemptBrake, addressRule, personRule } from './attempt-brake.js';
import { foldedName, personNamed, type KnownPerson } from './people.js';
import type { Person } from './roles.js';
import { costOf, isSecret, usualCost } from './secret-hash.js';
import { Sessions, type SessionEnd, type SessionRule } from './sessions.js';

const hour = 3_600_000;

/** Whoever can change something is signed out after an hour in which nothing was done, and after a long shift whatever was done. */
export const workingRule: SessionRule = { idle: hour, most: 12 * hour };
/** A screen on the wall only looks: 30 days. */
export const lookingRule: SessionRule = { idle: Infinity, most: 30 * 24 * hour };

/** Secrets that may wait to be hashed; each takes some tenths of a second and 32 MiB, one at a time. */
const mostWaiting = 10;

/** What came of signing in. */
export type SignedIn =
  | { readonly is: 'in'; readonly id: string; readonly person: Person; /** ms */ readonly lasts: number }
  /** Name or secret is wrong: never said which. */
  | { readonly is: 'wrong' }
  /** Too many attempts. */
  | { readonly is: 'wait'; /** s, whole */ readonly seconds: number }
  | { readonly is: 'busy' };

export interface FrontDoorOptions {
  readonly people: readonly KnownPerson[];
  /** Monotonic ms. */
  readonly now?: () => number;
  /** Hears how attempts end. A name that nobody has is not told: it may be a secret in the wrong field. */
  readonly heard?: (attempt: { readonly name: string | null; readonly address: string; readonly right: boolean }) => void;
}

/** Lets people in: who they are, for how long, and how often they may try. */
export class FrontDoor {
  #people: readonly KnownPerson[];
  readonly #sessions: Sessions<KnownPerson>;
  readonly #names: AttemptBrake;
  readonly #addresses: AttemptBrake;
  #hashing: Promise<unknown> = Promise.resolve();
  #waiting = 0;

  constructor(private readonly options: FrontDoorOptions) {
    const { people, now = () => performance.now() } = options;
    this.#people = people;
    this.#sessions = new Sessions((of) => this.#ruleOf(of), now);
    this.#names = new AttemptBrake(personRule, now);
    this.#addresses = new AttemptBrake(addressRule, now);
  }

  /** The people from now on. Whoever was removed or has another secret is signed out; a new role holds at once. */
  use(people: readonly KnownPerson[]): void {
    this.#people = people;
    this.sweep();
  }

  /** Ends sessions that have run out. Call it every few seconds. */
  sweep(): void {
    this.#sessions.sweep((of) => this.#current(of) !== undefined);
  }

  /** Whether somebody may come in. Takes as long for a name that nobody has. @param address of the machine that asks */
  async signIn(name: string, secret: string, address: string): Promise<SignedIn> {
    const named = foldedName(name);
    const wait = Math.max(this.#names.wait(named), this.#addresses.wait(address));
    if (wait > 0) return { is: 'wait', seconds: Math.ceil(wait / 1000) };
    if (this.#waiting >= mostWaiting) return { is: 'busy' };
    this.#names.book(named);
    this.#addresses.book(address);
    const known = personNamed(this.#people, name);
    const right = await this.#oneAtATime(() => isSecret(secret, known?.secret ?? this.#decoy()));
    // Meanwhile the file of people may have changed.
    const person = known === undefined ? undefined : this.#current(known);
    this.options.heard?.({ name: known?.name ?? null, address, right: right && person !== undefined });
    if (!right || person === undefined) return { is: 'wrong' };
    this.#names.clear(named);
    this.#addresses.takeBack(address);
    return { is: 'in', id: this.#sessions.begin(person), person: { name: person.name, role: person.role }, lasts: this.#ruleOf(person).most };
  }

  /** Who has that session; `null` where it is none. @param used a person did something, and the idle time begins anew */
  whoHas(id: string, used: boolean): Person | null {
    const of = this.#sessions.find(id);
    if (of === null) return null;
    const person = this.#current(of);
    if (person === undefined) {
      this.#sessions.end(id, 'no longer welcome');
      return null;
    }
    if (used) this.#sessions.use(id);
    return { name: person.name, role: person.role };
  }

  signOut(id: string): void {
    this.#sessions.end(id);
  }

  /** Calls back once when that session ends. @returns takes that back */
  onEnd(id: string, ended: (why: SessionEnd) => void): () => void {
    return this.#sessions.onEnd(id, ended);
  }

  #current(of: KnownPerson): KnownPerson | undefined {
    const person = personNamed(this.#people, of.name);
    return person?.secret === of.secret ? person : undefined;
  }

  #ruleOf(of: KnownPerson): SessionRule {
    return (this.#current(of) ?? of).role === 'viewer' ? lookingRule : workingRule;
  }

  /** A hash that no secret has, at the cost of a real one: a name that nobody has must not be answered sooner. */
  #decoy(): string {
    const [first] = this.#people;
    const { ln, r, p } = first === undefined ? usualCost : costOf(first.secret);
    const text = (bytes: number): string => randomBytes(bytes).toString('base64').replaceAll('=', '');
    return `$scrypt$ln=${ln},r=${r},p=${p}$${text(16)}$${text(32)}`;
  }

  async #oneAtATime<T>(work: () => Promise<T>): Promise<T> {
    this.#waiting++;
    const mine = this.#hashing.then(work);
    this.#hashing = mine.catch(() => undefined);
    try {
      return await mine;
    } finally {
      this.#waiting--;
    }
  }
}
