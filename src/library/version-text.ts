import { stringify } from 'yaml';
import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import { yamlOf } from '../files/yaml-file.js';

const digest = z.string().regex(/^[0-9a-f]{64}$/);

const versionSchema = z.strictObject({
  version: z.int().positive(),
  saved: z.iso.datetime(),
  who: z.string().min(1),
  why: z.string(),
  /** SHA-256 of the canonical JSON of the content, as records carry it. */
  content: digest,
  /** SHA-256 of the file of the version before; `null` for the first. */
  previous: digest.nullable(),
  /** Not offered for new runs any more. */
  retired: z.boolean(),
  /** As the person wrote it, comments and all. */
  text: z.string(),
});

/** A version as it lies in its file. */
export type VersionText = z.output<typeof versionSchema>;

const head = (version: number, name: string): string =>
  `# Version ${version} of ${name}, kept for the records. Never edit it: edit ${name} itself, and a new version is made.\n`;

/** The file of a version. @param name of the file that people edit */
export const versionFileOf = (version: VersionText, name: string): string => head(version.version, name) + stringify(version, { lineWidth: 0 });

/** What the file of a version says. @throws InputError where it was damaged */
export function readVersionText(text: string, path: string): VersionText {
  return yamlOf(text, path).check((value, source) => {
    const found = versionSchema.safeParse(value);
    if (!found.success) throw new InputError(source, problemsOf(found.error, value, Object.keys(versionSchema.shape)));
    return found.data;
  });
}
