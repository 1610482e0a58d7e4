import { InputError } from '../core/problems.js';
import { changesBetween } from '../library/difference.js';
import { editText } from '../library/edit-text.js';
import { meaningOf, writtenFields, type SettingKind } from '../library/setting-kind.js';
import type { SavedVersion, Standing, VersionedFile } from '../library/versioned-file.js';
import type { SettingRequest } from './setting-requests.js';
import type { CheckAnswer, DifferenceAnswer, SettingAnswer, VersionInfo } from './setup-answers.js';

export function versionInfo({ version, wall, who, why, sha256, retired }: SavedVersion): VersionInfo {
  return { version, wall, who, why, sha256, retired };
}

/** A plan or the thresholds with its fields and versions. */
export function settingAnswer<T>(file: VersionedFile<T>, { newest, problem }: Pick<Standing<T>, 'newest' | 'problem'>, inForce: boolean): SettingAnswer {
  const versions = [...file.versions()].reverse();
  const text = newest?.text ?? '{}\n';
  return {
    key: file.key, version: newest?.version ?? 0, text: newest?.text ?? '', fields: writtenFields(file.kind, text, file.key), inForce,
    versions: versions.map(versionInfo), retired: newest?.retired ?? false,
    problems: [problem, file.versionProblems()].flatMap((found) => found?.problems.map(({ place, text: said }) => [place, said].filter(Boolean).join(': ')) ?? []),
  };
}

/** One version as it was. @throws InputError */
export function versionAnswer<T>(file: VersionedFile<T>, number: number) {
  const version = file.version(number);
  return { ...versionInfo(version), text: version.text, fields: writtenFields(file.kind, version.text, file.key) };
}

/** @throws InputError */
export function differenceAnswer<T>(file: VersionedFile<T>, from: number, to: number): DifferenceAnswer {
  const [before, after] = [file.version(from), file.version(to)];
  const changes = changesBetween(file.kind, before.text, after.text, file.key);
  return { from, to, changes, wordsOnly: changes.length === 0 && before.text !== after.text };
}

/** The text that a request means: its own, else `text`, with its changes. @throws InputError */
export const textOf = <T>(kind: SettingKind<T>, text: string, request: SettingRequest): string =>
  request.changes === undefined ? (request.text ?? text) : editText(kind, request.text ?? text, request.changes);

/** What would be wrong with it. Writes nothing. @param text that the changes are made to */
export function checkAnswer<T>(kind: SettingKind<T>, text: string, request: SettingRequest): CheckAnswer {
  const source = '';
  let wanted = text;
  const problems = problemsIn(() => {
    wanted = textOf(kind, text, request);
    meaningOf(kind, wanted, source);
  });
  let fields: CheckAnswer['fields'] = [];
  problemsIn(() => (fields = writtenFields(kind, wanted, source)));
  return { text: wanted, problems: problems.map(({ place, text: said }) => ({ place: placeOf(place), text: said })), fields };
}

/** The field that a problem is about: the line of a file means nothing in a form. */
export const placeOf = (place: string): string => place.replace(/^line \d+, /, '');

function problemsIn(work: () => unknown): InputError['problems'] {
  try {
    work();
    return [];
  } catch (error) {
    if (error instanceof InputError) return error.problems;
    throw error;
  }
}
