import { yamlOf } from '../files/yaml-file.js';
import { canonicalJson } from '../records/canonical-json.js';
import { meaningOf, memberAt, type SettingKind } from './setting-kind.js';

/** One field that differs, as written, with units. */
export interface Change {
  readonly key: string;
  readonly from: string;
  readonly to: string;
}

/**
 * The fields that mean something else in `after` than in `before`. A field written in another way (`55 MPa`, `550 bar`)
 * is not among them.
 * @throws InputError where one of them is not right
 */
export function changesBetween<T>(kind: SettingKind<T>, before: string, after: string, source: string = kind.kind): Change[] {
  const [from, to] = [sideOf(kind, before, source), sideOf(kind, after, source)];
  return kind.fields
    .filter(({ key }) => canonicalJson(memberAt(from.meant, key) ?? null) !== canonicalJson(memberAt(to.meant, key) ?? null))
    .map((field) => ({ key: field.key, from: shown(from.written, field), to: shown(to.written, field) }));
}

const sideOf = <T>(kind: SettingKind<T>, text: string, source: string) => ({ meant: meaningOf(kind, text, source), written: yamlOf(text, source).value });

function shown(written: unknown, { key, default: standing }: { readonly key: string; readonly default: string | null }): string {
  const found = memberAt(written, key);
  if (typeof found === 'string' || typeof found === 'number' || typeof found === 'boolean') return String(found);
  return standing === null ? 'not set' : `${standing} (default)`;
}
