import { readdirSync, readFileSync, type Dirent } from 'node:fs';
import { basename, join } from 'node:path';
import { InputError, inputError, type Problem } from '../core/problems.js';
import { sha256 } from '../records/canonical-json.js';
import { claim } from './whole-file.js';
import { readVersionText, versionFileOf, type VersionText } from './version-text.js';

/** A version of a plan or of thresholds. */
export interface SavedVersion {
  readonly version: number;
  /** ms since 1970. */
  readonly wall: number;
  readonly who: string;
  readonly why: string;
  /** SHA-256 of the canonical JSON of the content: the one that records carry. */
  readonly sha256: string;
  readonly retired: boolean;
  readonly text: string;
}

interface Kept extends SavedVersion {
  readonly fileDigest: string;
  readonly previous: string | null;
}

/** The versions of one file: `versions/NAME@3.yaml` beside it, written once and never changed. */
export class VersionFolder {
  private readonly read = new Map<number, Kept | InputError>();

  constructor(
    /** Path of the folder. */
    readonly folder: string,
    /** Name of the file without its ending. */
    private readonly stem: string,
    private readonly fileName: string,
  ) {}

  /** Names in the folder at this moment. */
  names(): readonly string[] {
    return namesIn(this.folder);
  }

  /** Oldest first; damaged ones are left out. `names` are the names in the folder, where somebody has read them already. */
  list(names: readonly string[] = namesIn(this.folder)): readonly SavedVersion[] {
    return this.numbers(names).flatMap((number) => {
      const found = this.get(number);
      return found instanceof InputError ? [] : [found];
    });
  }

  /** The newest that is not damaged; only that one is read. */
  last(names: readonly string[] = namesIn(this.folder)): SavedVersion | null {
    for (const number of this.numbers(names).reverse()) {
      const found = this.get(number);
      if (!(found instanceof InputError)) return found;
    }
    return null;
  }

  /** The newest version whose content has this SHA-256. Of the others not more than the bytes are read. */
  withContent(sha256: string, names: readonly string[] = namesIn(this.folder)): SavedVersion | null {
    for (const number of this.numbers(names).reverse()) {
      const known = this.read.get(number);
      if (known === undefined ? !this.says(number, `content: ${sha256}`) : known instanceof InputError || known.sha256 !== sha256) continue;
      const found = this.get(number);
      if (!(found instanceof InputError) && found.sha256 === sha256) return found;
    }
    return null;
  }

  /** The newest number taken, 0 before the first. */
  newest(names: readonly string[] = namesIn(this.folder)): number {
    return this.numbers(names).at(-1) ?? 0;
  }

  /**
   * What does not hold together: a version that is missing, cannot be read, or was changed after it was saved. Whoever
   * changes one must change all after it, and records keep the text that they were judged by.
   */
  problems(): Problem[] {
    const problems: Problem[] = [];
    let before: Kept | null = null;
    let expected = 1;
    for (const number of this.numbers(namesIn(this.folder))) {
      for (; expected < number; expected++) problems.push({ place: `version ${expected}`, text: 'is missing' });
      expected = number + 1;
      this.read.delete(number);
      const found = this.get(number);
      if (found instanceof InputError) problems.push({ place: `version ${number}`, text: found.problems[0]?.text ?? 'cannot be read' });
      else if (before !== null && before.version === number - 1 && found.previous !== before.fileDigest) problems.push({ place: `version ${number - 1}`, text: 'was changed after it was saved' });
      before = found instanceof InputError ? null : found;
    }
    return problems;
  }

  /** Adds a version, all or nothing. @returns false where somebody else has taken its number meanwhile */
  add(version: Omit<SavedVersion, 'wall'> & { readonly wall: number }): boolean {
    const before = version.version > 1 ? this.get(version.version - 1) : null;
    const text: VersionText = {
      version: version.version, saved: new Date(version.wall).toISOString(), who: version.who, why: version.why, content: version.sha256,
      previous: before === null ? null : before instanceof InputError ? sha256('') : before.fileDigest, retired: version.retired, text: version.text,
    };
    return claim(this.pathOf(version.version), versionFileOf(text, this.fileName));
  }

  private get(number: number): Kept | InputError {
    const known = this.read.get(number);
    if (known !== undefined) return known;
    const found = this.load(number);
    this.read.set(number, found);
    return found;
  }

  private says(number: number, text: string): boolean {
    try {
      return readFileSync(this.pathOf(number)).includes(text);
    } catch {
      return false;
    }
  }

  private load(number: number): Kept | InputError {
    const path = this.pathOf(number);
    try {
      const bytes = readFileSync(path);
      const { version, saved, who, why, content, previous, retired, text } = readVersionText(bytes.toString('utf8'), path);
      if (version !== number) throw inputError(path, 'version', `says ${version}, its name says ${number}`);
      return { version, wall: Date.parse(saved), who, why, sha256: content, retired, text, previous, fileDigest: sha256(bytes) };
    } catch (error) {
      if (error instanceof InputError) return error;
      return inputError(path, '', `cannot be read (${(error as NodeJS.ErrnoException).code ?? String(error)})`, error);
    }
  }

  private numbers(names: readonly string[]): number[] {
    const start = `${this.stem}@`;
    return names
      .flatMap((name) => (name.startsWith(start) && /^\d{1,6}\.yaml$/.test(name.slice(start.length)) ? [Number.parseInt(name.slice(start.length), 10)] : []))
      .sort((a, b) => a - b);
  }

  private pathOf(number: number): string {
    return join(this.folder, `${basename(this.stem)}@${number}.yaml`);
  }
}

/** What is in a folder; nothing where it is not there. @throws InputError where it cannot be read */
export function entriesIn(folder: string): Dirent[] {
  try {
    return readdirSync(folder, { withFileTypes: true });
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT') return [];
    throw inputError(folder, '', code === 'ENOTDIR' ? 'is a file; it should be a folder' : `cannot be read (${code ?? ''})`, error);
  }
}

export const namesIn = (folder: string): string[] => entriesIn(folder).map(({ name }) => name);
