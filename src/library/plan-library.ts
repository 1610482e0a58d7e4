import { lstatSync } from 'node:fs';
import { basename, dirname, extname, join, resolve } from 'node:path';
import type { Plan } from '../core/plan.js';
import { InputError, inputError } from '../core/problems.js';
import { editText, type FieldEdits } from './edit-text.js';
import { NotThere } from './not-there.js';
import { planFacts, type PlanFacts } from './plan-facts.js';
import { keyFor } from './plan-key.js';
import { fitOf, wishesIn } from './plan-search.js';
import { meaningOf, planKind } from './setting-kind.js';
import { entriesIn, namesIn, type SavedVersion } from './version-folder.js';
import { fileOnDisk, VersionedFile, type FolderNames, type Standing } from './versioned-file.js';

/** A plan of the library. */
export interface ShelvedPlan {
  /** Name of its file without the ending; unique in the library whatever case it is written in. */
  readonly key: string;
  readonly file: VersionedFile<Plan>;
  readonly newest: SavedVersion;
  readonly plan: Plan;
  /** What is wrong with its file just now; the newest version holds meanwhile. */
  readonly problem: InputError | null;
}

/** A file that is not used as it is, in one sentence. */
export interface FileProblem {
  readonly file: string;
  readonly text: string;
}

/** Plans looked at in one go while the bench is running, and changes of them that are kept in one go. */
const mostLookedAt = 50;
const mostKeptAtOnce = 3;
/** Plans that a folder may have. */
const mostPlans = 5000;
const planFile = /\.ya?ml$/i;

interface Shelf {
  readonly file: VersionedFile<Plan>;
  /** How the file looked when it was read last, and at the last look. */
  seen: string;
  last: string;
  standing: Standing<Plan>;
  facts: PlanFacts | null;
}

/**
 * All plans of a shop: the files of one folder, and the plan that the bench file names where that lies elsewhere. Each
 * has its versions. A file that is not right is named and hides nothing else.
 */
export class PlanLibrary {
  private shelves = new Map<string, Shelf>();
  private troubles: readonly FileProblem[] = [];
  /** Number of the plan at which the next look begins. */
  private turn = 0;

  constructor(
    /** Absolute. */
    readonly folder: string,
    /** Plan files outside the folder. */
    private readonly others: readonly string[] = [],
    private readonly now: () => number = Date.now,
    /** Only look: nothing is written. */
    private readonly readOnly = false,
  ) {}

  /**
   * Looks at all files at once; what was changed past the program becomes a version.
   * @param most versions made in this way; what is beyond holds, and becomes one with the next looks
   */
  refresh(most = Infinity): void {
    this.lookAll({ atRest: false, inUse: null, left: most });
  }

  /**
   * The same, to be called about once a second: a file counts once two looks in a row found it the same, so that a
   * half-written plan is never taken for a whole one. A plan whose file is gone for as long counts as retired. Of many
   * plans only some are looked at each time, so that nothing else has to wait.
   * @param inUse the plan that is not retired in this way
   */
  poll(inUse: string | null): void {
    this.lookAll({ atRest: true, inUse, left: mostKeptAtOnce });
    this.turn = this.shelves.size === 0 ? 0 : (this.turn + mostLookedAt) % (Math.ceil(this.shelves.size / mostLookedAt) * mostLookedAt);
  }

  private lookAll(how: Look): void {
    const problems: FileProblem[] = [];
    const shelves = new Map<string, Shelf>();
    const { paths, names } = this.paths(problems);
    paths.forEach((path, i) => {
      const key = basename(path, extname(path));
      const id = key.toLowerCase();
      if (shelves.has(id)) {
        problems.push({ file: basename(path), text: 'has the same name as another plan; rename one of them' });
        return;
      }
      const shelf = this.shelves.get(id) ?? this.newShelf(path);
      const due = !how.atRest || shelf.last === '' || shelf.file.key === how.inUse || (i >= this.turn && i < this.turn + mostLookedAt);
      if (due) this.look(shelf, dirname(path) === this.folder ? names : {}, how);
      shelves.set(id, shelf);
      const { problem, unkept } = shelf.standing;
      if (problem !== null) problems.push({ file: basename(path), text: sentenceOf(problem) });
      if (unkept !== null) problems.push({ file: basename(path), text: `holds, but cannot be kept as a version: ${sentenceOf(unkept)}` });
    });
    this.shelves = shelves;
    this.troubles = problems;
  }

  /** What is wrong in the folder, as of the last look. */
  get problems(): readonly FileProblem[] {
    return this.troubles;
  }

  /** Every plan, retired ones too, as of the last look. */
  plans(): ShelvedPlan[] {
    return [...this.shelves.values()].flatMap(({ file, standing: { newest, value, problem } }) => (newest === null || value === null ? [] : [{ key: file.key, file, newest, plan: value, problem }]));
  }

  /** @throws InputError where there is no such plan */
  get(key: string): ShelvedPlan {
    const found = this.plans().find((plan) => plan.key === key);
    if (found === undefined) throw new NotThere(key, 'there is no such plan');
    return found;
  }

  /** The same, after what is in no version yet has become one: before somebody builds on it. @throws InputError */
  settled(key: string): ShelvedPlan {
    const { file } = this.get(key);
    if (this.shelves.get(key.toLowerCase())?.standing.pending === true) this.reread(file);
    return this.get(key);
  }

  /**
   * Plans that fit what somebody typed; of those that fit, the one used last first. Plans that fit only by a remark, or
   * with a letter wrong, come only where no other does.
   * @param usedAt ms since 1970 when a plan was last used; `null` for never
   */
  find(query: string, usedAt: (plan: ShelvedPlan) => number | null = () => null): ShelvedPlan[] {
    const wishes = wishesIn(query);
    const fitting = this.plans().flatMap((plan) => {
      const facts = this.shelves.get(plan.key.toLowerCase())?.facts ?? null;
      const fit = facts === null ? null : fitOf(wishes, facts);
      return fit === null ? [] : [{ plan, fit, used: usedAt(plan) ?? -Infinity }];
    });
    const good = fitting.filter(({ fit }) => fit.worst >= 2);
    return (good.length > 0 ? good : fitting)
      .sort((a, b) => compare(b.used, a.used) || b.fit.mean - a.fit.mean || a.plan.plan.plan.localeCompare(b.plan.plan.plan))
      .map(({ plan }) => plan);
  }

  /**
   * Adds a plan; its file is named after it.
   * @throws InputError, also where a plan of that name is there already
   */
  create(text: string, who: string, why: string): ShelvedPlan {
    const plan = meaningOf(planKind, text, 'plan');
    const key = keyFor(plan.plan);
    const taken = this.shelves.get(key.toLowerCase());
    if (taken !== undefined) {
      const retired = taken.standing.newest?.retired === true ? ', retired' : '';
      throw inputError('plan', 'plan', `there is a plan '${key}' already${retired}; choose another name${retired === '' ? ', or change that one' : ', or bring that one back'}`);
    }
    const { file } = this.newShelf(join(this.folder, `${key}.yaml`));
    file.save({ base: 0, text, who, why });
    return this.reread(file);
  }

  /** Adds a plan like another, with some fields changed; its name must be among them. @throws InputError */
  copy(key: string, edits: FieldEdits, who: string, why: string): ShelvedPlan {
    const { newest, plan } = this.get(key);
    if ((edits['plan'] ?? '').trim() === '' || edits['plan']?.trim() === plan.plan) throw inputError('plan', 'plan', 'give the copy a name of its own');
    return this.create(editText(planKind, newest.text, edits, 'plan'), who, why);
  }

  /** Looks at one plan at once, after it was saved. @throws InputError */
  reread({ key, path }: Pick<VersionedFile<Plan>, 'key' | 'path'>): ShelvedPlan {
    const id = key.toLowerCase();
    const shelf = this.shelves.get(id) ?? this.newShelf(path);
    shelf.seen = '';
    this.look(shelf, {}, { atRest: false, inUse: key, left: 1 });
    this.shelves.set(id, shelf);
    return this.get(key);
  }

  /** The plan and version whose content has this SHA-256; the newest where several have. */
  versionWith(sha256: string): { readonly key: string; readonly version: SavedVersion } | null {
    const plans = this.plans();
    const now = plans.find(({ newest }) => newest.sha256 === sha256);
    if (now !== undefined) return { key: now.key, version: now.newest };
    const names = namesIn(join(this.folder, 'versions'));
    for (const { key, file } of plans) {
      const version = file.versionWith(sha256, dirname(file.path) === this.folder ? names : undefined);
      if (version !== null) return { key, version };
    }
    return null;
  }

  private paths(problems: FileProblem[]): { readonly paths: readonly string[]; readonly names: FolderNames } {
    const names = new Set<string>();
    let beside: readonly string[] = [];
    let versions: readonly string[] = [];
    try {
      const found = entriesIn(this.folder);
      beside = found.map(({ name }) => name);
      versions = namesIn(join(this.folder, 'versions'));
      for (const entry of found) {
        const { name } = entry;
        if (name.startsWith('.') || !planFile.test(name)) continue;
        if (entry.isFile()) names.add(name);
        else problems.push({ file: name, text: 'is not a file of its own; links and folders are not read as plans' });
      }
      const kept = new Set([...names].map((name) => basename(name, extname(name)).toLowerCase()));
      for (const name of versions) {
        const key = /^(.+)@\d+\.yaml$/.exec(name)?.[1];
        if (key !== undefined && !kept.has(key.toLowerCase())) {
          kept.add(key.toLowerCase());
          names.add(`${key}.yaml`);
        }
      }
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      problems.push({ file: basename(this.folder), text: sentenceOf(error) });
    }
    const sorted = [...names].sort();
    if (sorted.length > mostPlans) problems.push({ file: basename(this.folder), text: `has ${sorted.length} plans; only the first ${mostPlans} are shown` });
    const inside = sorted.slice(0, mostPlans).map((name) => join(this.folder, name));
    const elsewhere = this.others.filter((other) => dirname(resolve(other)) !== this.folder);
    return { paths: [...inside, ...elsewhere], names: { beside, versions } };
  }

  private newShelf(path: string): Shelf {
    return { file: new VersionedFile(path, planKind, this.now, this.readOnly), seen: '', last: '', standing: { newest: null, value: null, problem: null, unkept: null, pending: false }, facts: null };
  }

  private look(shelf: Shelf, names: FolderNames, how: Look): void {
    const { atRest, inUse } = how;
    const { file } = shelf;
    const seen = lookOf(file.path);
    const same = seen === shelf.last;
    shelf.last = seen;
    if (seen === shelf.seen || (atRest && !same)) return;
    shelf.seen = seen;
    try {
      const before = shelf.standing;
      shelf.standing = file.look(atRest && file.key !== inUse, names, how.left > 0);
      if (shelf.standing.newest?.version !== before.newest?.version && shelf.standing.newest?.who === fileOnDisk) how.left--;
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      shelf.standing = { ...shelf.standing, problem: error };
    }
    const { newest, value } = shelf.standing;
    shelf.facts = newest === null || value === null ? null : planFacts(file.key, value.plan, newest.text, value.testPressure);
    // Somebody may have missed it only because it was being written anew.
    if ((seen === 'missing' && !atRest) || (shelf.standing.pending && !this.readOnly)) shelf.seen = '';
  }
}

interface Look {
  readonly atRest: boolean;
  readonly inUse: string | null;
  /** Versions that may still be made of what was changed past the program. */
  left: number;
}

function lookOf(path: string): string {
  const found = lstatSync(path, { throwIfNoEntry: false });
  return found === undefined ? 'missing' : `${found.mtimeMs} ${found.size} ${found.ino}`;
}

const sentenceOf = (problem: InputError): string => {
  const [first, ...others] = problem.problems;
  return `${[first?.place, first?.text].filter((part) => part !== undefined && part !== '').join(': ')}${others.length > 0 ? ` (and ${others.length} more)` : ''}`;
};

const compare = (a: number, b: number): number => (a === b ? 0 : a < b ? -1 : 1);
