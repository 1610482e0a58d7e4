import { createHash, randomBytes } from 'node:crypto';

/** How long somebody stays signed in. */
export interface SessionRule {
  /** ms without anything that a person does. */
  readonly idle: number;
  /** ms, whatever is done. */
  readonly most: number;
}

/** A session as it is kept: without its id, of which only the hash is known. */
interface Kept<T> {
  readonly of: T;
  readonly begun: number;
  used: number;
}

/** Why a session ended. */
export type SessionEnd = 'signed out' | 'idle too long' | 'signed in too long' | 'no longer welcome' | 'too many';

/**
 * Who is signed in. In memory only: the end of the program signs everybody out, and nothing that opens the page ever lies
 * on a disk. Of an id only its SHA-256 is kept: a picture of the memory opens nothing either.
 */
export class Sessions<T> {
  readonly #kept = new Map<string, Kept<T>>();
  readonly #ended = new Map<string, Set<(why: SessionEnd) => void>>();

  /** @param now monotonic ms */
  constructor(
    private readonly rule: (of: T) => SessionRule,
    private readonly now: () => number,
    private readonly mostSessions = 1000,
  ) {}

  get size(): number {
    return this.#kept.size;
  }

  /** @returns its id: 256 random bits */
  begin(of: T): string {
    const id = randomBytes(32).toString('base64url');
    const begun = this.now();
    this.#kept.set(keyOf(id), { of, begun, used: begun });
    if (this.#kept.size > this.mostSessions) {
      const [longestUnused] = [...this.#kept].reduce((a, b) => (b[1].used < a[1].used ? b : a));
      this.#end(longestUnused, 'too many');
    }
    return id;
  }

  /** Whose session an id is; `null` where it is none, or no longer one. */
  find(id: string): T | null {
    const key = keyOf(id);
    const kept = this.#kept.get(key);
    if (kept === undefined) return null;
    const over = this.#over(kept);
    if (over === null) return kept.of;
    this.#end(key, over);
    return null;
  }

  /** A person did something: the idle time begins anew. */
  use(id: string): void {
    const kept = this.#kept.get(keyOf(id));
    if (kept !== undefined && this.#over(kept) === null) kept.used = this.now();
  }

  end(id: string, why: SessionEnd = 'signed out'): void {
    this.#end(keyOf(id), why);
  }

  /** Ends what has run out, and what `stays` no longer welcomes. Call it now and then. */
  sweep(stays: (of: T) => boolean = () => true): void {
    for (const [key, kept] of [...this.#kept]) {
      const over = this.#over(kept) ?? (stays(kept.of) ? null : 'no longer welcome');
      if (over !== null) this.#end(key, over);
    }
  }

  /** Calls back once when the session of `id` ends. @returns takes that back */
  onEnd(id: string, ended: (why: SessionEnd) => void): () => void {
    const key = keyOf(id);
    const all = this.#ended.get(key) ?? new Set();
    this.#ended.set(key, all.add(ended));
    return () => {
      all.delete(ended);
      if (all.size === 0 && this.#ended.get(key) === all) this.#ended.delete(key);
    };
  }

  #over({ of, begun, used }: Kept<T>): SessionEnd | null {
    const { idle, most } = this.rule(of);
    const now = this.now();
    return now - begun >= most ? 'signed in too long' : now - used >= idle ? 'idle too long' : null;
  }

  #end(key: string, why: SessionEnd): void {
    this.#kept.delete(key);
    const told = this.#ended.get(key);
    this.#ended.delete(key);
    told?.forEach((ended) => ended(why));
  }
}

const keyOf = (id: string): string => createHash('sha256').update(id).digest('base64');
