import { randomBytes } from 'node:crypto';
import { readFileSync, rmSync, statSync } from 'node:fs';
import { basename, dirname, extname, join } from 'node:path';
import { decodeText } from '../core/import/decode-text.js';
import { InputError, inputError } from '../core/problems.js';
import { isLost } from '../files/last-good.js';
import { makeFolder } from '../files/make-folder.js';
import { canonicalJson, sha256 } from '../records/canonical-json.js';
import { NotThere } from './not-there.js';
import { SaveConflict } from './save-conflict.js';
import { meaningOf, type SettingKind } from './setting-kind.js';
import { namesIn, VersionFolder, type SavedVersion } from './version-folder.js';
import { putInPlace, writeWhole, writing } from './whole-file.js';

export type { SavedVersion };

/** Who is named where a file was changed past the program. */
export const fileOnDisk = 'file on disk';
/** Bytes that a file may have. */
export const longestFile = 256 * 1024;

/** A new state of a file. */
export interface Saving {
  /** Number of the version that it was made from; 0 for a new file. */
  readonly base: number;
  readonly text: string;
  readonly who: string;
  readonly why: string;
}

/** What a file says just now. */
export interface Standing<T> {
  /** The newest version; `null` for a file that never was right. */
  readonly newest: SavedVersion | null;
  /** What the newest version means; `null` where there is none. */
  readonly value: T | null;
  /** What is wrong with the file; the newest version holds meanwhile. */
  readonly problem: InputError | null;
  /** Why the file as it is now is in no version; it holds all the same, as `newest`. */
  readonly unkept: InputError | null;
  /** The file was changed past the program, and that is in no version yet; it holds all the same, as `newest`. */
  readonly pending: boolean;
}

/** Names in the folder of a file and in that of its versions, where somebody has read them already. */
export interface FolderNames {
  readonly beside?: readonly string[];
  readonly versions?: readonly string[];
}

/**
 * One file of settings with all its versions. The file itself is what people and programs read and may edit; each state
 * of it is kept as a version beside it, with who, when and why. Of two that save at once, one gets a `SaveConflict`; a
 * crash at any instant leaves the old state or the new one.
 */
export class VersionedFile<T> {
  readonly key: string;
  private readonly kept: VersionFolder;
  private readonly folder: string;
  private meant: { readonly version: number; readonly value: T } | null = null;

  constructor(
    readonly path: string,
    readonly kind: SettingKind<T>,
    private readonly now: () => number = Date.now,
    /** Only look: nothing is written, and a file changed past the program holds without becoming a version. */
    private readonly readOnly = false,
  ) {
    this.folder = dirname(path);
    this.key = basename(path, extname(path));
    this.kept = new VersionFolder(join(this.folder, 'versions'), this.key, basename(path));
  }

  /** Oldest first. */
  versions(): readonly SavedVersion[] {
    return this.kept.list();
  }

  /** The newest version whose content has this SHA-256, as a record names it; `null` where there is none. */
  versionWith(sha256: string, names?: readonly string[]): SavedVersion | null {
    return this.kept.withContent(sha256, names);
  }

  /** Versions that are missing or were tampered with, one sentence each. */
  versionProblems(): InputError | null {
    const problems = this.kept.problems();
    return problems.length === 0 ? null : new InputError(this.path, problems);
  }

  /**
   * Looks at the file; what was changed in it past the program becomes a version of its own.
   * @param gone whether a file that is no longer there counts as retired: once that was so for a while
   * @param keep `false`: only say that it is to become one
   */
  look(gone = true, { beside, versions: kept }: FolderNames = {}, keep = true): Standing<T> {
    this.tidy(beside);
    let seen = kept;
    for (let sure = false; ; ) {
      // One look for both, or a version that comes between them would be passed over.
      const names = seen ?? this.kept.names();
      const newest = this.kept.last(names);
      const text = this.text();
      if (text instanceof InputError) return this.standing(newest, text);
      if (text === null && (newest === null || newest.retired || !gone)) return this.standing(newest, newest === null || newest.retired ? null : inputError(this.path, '', 'the file was removed'));
      if (text !== null && newest !== null && !newest.retired && newest.text === text) return this.standing(newest, null);
      if (!sure && newest !== null) {
        // Another program may be between its version and its file: after one more look that save is finished.
        this.tidy();
        seen = undefined;
        sure = true;
        continue;
      }
      const wanted = text ?? newest?.text ?? '';
      const found = this.meaning(wanted);
      if (found instanceof InputError) return this.standing(newest, found);
      const why = text === null ? 'the file was removed from the folder' : newest === null ? 'found in the folder' : 'changed in the folder';
      const wall = newest === null ? (statSync(this.path, { throwIfNoEntry: false })?.mtimeMs ?? this.now()) : this.now();
      const version = versionOf(this.kept.newest(names) + 1, found, { text: wanted, who: fileOnDisk, why, wall, retired: text === null });
      const asItIs = { newest: { ...version, version: newest?.version ?? 0 }, value: found, problem: null, pending: true } as const;
      if (this.readOnly || !keep) return { ...asItIs, unkept: null };
      let added: boolean;
      try {
        added = writing(this.path, () => this.kept.add(version));
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
        return { ...asItIs, unkept: error };
      }
      seen = undefined;
      // Another program may have seen the same change first; then its version is the newest, and all is well.
      if (!added && this.kept.newest() <= this.kept.newest(names)) return this.standing(newest, null);
    }
  }

  /**
   * Saves a new state as a version.
   * @throws InputError where the text is not right, nobody is named, no reason is given or nothing is new
   * @throws SaveConflict where it was made from another version than the newest
   */
  save(saving: Saving): SavedVersion {
    return this.put(saving, false);
  }

  /** A new version equal to an old one. @throws InputError, SaveConflict */
  goBack(to: number, { base, who, why }: Omit<Saving, 'text'>): SavedVersion {
    return this.put({ base, text: this.version(to).text, who, why }, false);
  }

  /** Takes the file out of use; its versions stay. @throws InputError, SaveConflict */
  retire({ base, who, why }: Omit<Saving, 'text'>): SavedVersion {
    return this.put({ base, text: this.version(base).text, who, why }, true);
  }

  /** @throws InputError where there is no such version */
  version(number: number): SavedVersion {
    const found = this.versions().find(({ version }) => version === number);
    if (found === undefined) throw new NotThere(this.key, `has no version ${number}`);
    return found;
  }

  private put({ base, text, who, why }: Saving, retired: boolean): SavedVersion {
    const { problem } = this.look();
    const names = this.kept.names();
    const newest = this.kept.last(names);
    if (who.trim() === '') throw inputError(this.key, 'who', 'is empty; say who is doing this');
    if (why.trim() === '') throw inputError(this.key, 'why', 'is empty; a new version needs its reason');
    if (Buffer.byteLength(text) > longestFile) throw inputError(this.key, '', 'is too long; a plan or thresholds file has a few lines');
    const number = newest?.version ?? 0;
    if (base !== number) throw new SaveConflict(this.kind, this.key, base === 0 ? null : this.version(base), newest, text);
    if (problem !== null && !isLost(this.path)) {
      throw inputError(this.key, '', `its file on disk is being edited and not right at this moment (${problem.problems[0]?.text ?? ''}); put it right first, or nothing of that edit would be kept`);
    }
    const meaning = this.meaning(text, this.key);
    if (meaning instanceof InputError) throw meaning;
    if (newest !== null && newest.text === text && newest.retired === retired) throw inputError(this.key, '', retired ? 'is retired already' : 'nothing was changed');
    const version = versionOf(this.kept.newest(names) + 1, meaning, { text, who: who.trim(), why: why.trim(), wall: this.now(), retired });
    return writing(this.path, () => {
      makeFolder(this.folder);
      // Says what is meant before it is decided, so that whoever finds the version can finish what a crash cut short.
      const part = join(this.folder, `.${this.key}@${version.version}.${randomBytes(6).toString('hex')}.${retired ? 'gone' : 'part'}`);
      writeWhole(part, text);
      try {
        if (!this.kept.add(version)) throw new SaveConflict(this.kind, this.key, newest, this.kept.last(), text);
        this.take(part, retired);
      } catch (error) {
        rmSync(part, { force: true });
        throw error;
      }
      return version;
    });
  }

  /** That something cannot be finished shows when something is to be saved. */
  private tidy(names?: readonly string[]): void {
    if (this.readOnly) return;
    try {
      writing(this.path, () => this.finish(names));
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
    }
  }

  /** Finishes a save whose version is kept already, and clears away what never became one. */
  private finish(names: readonly string[] = namesIn(this.folder)): void {
    const pattern = /^\.(.+)@(\d+)\.[0-9a-f]{12}\.(part|gone)$/;
    for (const name of names) {
      const [, key, number, ending] = pattern.exec(name) ?? [];
      if (key !== this.key) continue;
      const part = join(this.folder, name);
      const newest = this.kept.last();
      if (newest?.version === Number(number) && newest.who !== fileOnDisk && readText(part) === newest.text) this.take(part, ending === 'gone');
      else if ((newest?.version ?? 0) >= Number(number) || olderThanAnHour(part)) rmSync(part, { force: true });
    }
  }

  private take(part: string, retired: boolean): void {
    if (retired) rmSync(this.path, { force: true });
    if (retired) rmSync(part, { force: true });
    else putInPlace(part, this.path);
  }

  private standing(newest: SavedVersion | null, problem: InputError | null): Standing<T> {
    if (newest === null) return { newest, value: null, problem, unkept: null, pending: false };
    if (this.meant?.version !== newest.version) {
      const value = this.meaning(newest.text);
      if (value instanceof InputError) return { newest, value: null, problem: problem ?? value, unkept: null, pending: false };
      this.meant = { version: newest.version, value };
    }
    return { newest, value: this.meant.value, problem, unkept: null, pending: false };
  }

  private meaning(text: string, source = this.path): T | InputError {
    try {
      return meaningOf(this.kind, text, source);
    } catch (error) {
      if (error instanceof InputError) return error;
      throw error;
    }
  }

  /** The file as it is; `null` where there is none. */
  private text(): string | null | InputError {
    const found = statSync(this.path, { throwIfNoEntry: false });
    if (found === undefined) return null;
    if (found.size > longestFile) return inputError(this.path, '', 'is too long; a plan or thresholds file has a few lines');
    return readText(this.path) ?? inputError(this.path, '', 'may not be read by this user');
  }
}

const versionOf = (version: number, content: unknown, rest: Omit<SavedVersion, 'version' | 'sha256'>): SavedVersion => ({ version, sha256: sha256(canonicalJson(content)), ...rest });

function readText(path: string): string | null {
  try {
    return decodeText(readFileSync(path));
  } catch {
    return null;
  }
}

const olderThanAnHour = (path: string): boolean => Date.now() - (statSync(path, { throwIfNoEntry: false })?.mtimeMs ?? 0) > 3_600_000;
