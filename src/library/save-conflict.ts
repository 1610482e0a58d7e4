import { InputError } from '../core/problems.js';
import { changesBetween, type Change } from './difference.js';
import type { SettingKind } from './setting-kind.js';
import type { SavedVersion } from './version-folder.js';

/** Somebody saved meanwhile. Nothing was written; both differences are told, so that the second can decide. */
export class SaveConflict extends InputError {
  /** What the other one changed. */
  readonly theirs: readonly Change[];
  /** How the refused text differs from what holds now. */
  readonly yours: readonly Change[];

  /** @param base version that the refused text was made from; `null` for a new file */
  constructor(
    kind: SettingKind<unknown>,
    key: string,
    base: SavedVersion | null,
    readonly newest: SavedVersion | null,
    text: string,
  ) {
    const made = newest === null ? 'is no longer there' : `was ${newest.retired ? 'retired' : base === null ? 'made' : 'changed'} meanwhile by ${newest.who} (version ${newest.version}: ${newest.why})`;
    super(key, [{ place: '', text: `${made}; nothing of yours was saved: look at the difference, then save again on top of it` }]);
    this.theirs = base === null || newest === null ? [] : differing(kind, base.text, newest.text);
    this.yours = newest === null ? [] : differing(kind, newest.text, text);
  }
}

function differing(kind: SettingKind<unknown>, before: string, after: string): readonly Change[] {
  try {
    return changesBetween(kind, before, after);
  } catch (error) {
    // What is wrong with the text is told when it is saved on top of the newest version.
    if (error instanceof InputError) return [];
    throw error;
  }
}
