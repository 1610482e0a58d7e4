import { isMap, parseDocument } from 'yaml';
import { inputError } from '../core/problems.js';
import { yamlOf } from '../files/yaml-file.js';
import type { SettingKind } from './setting-kind.js';

/** New text of fields by key; `null` leaves a field out. */
export type FieldEdits = Readonly<Record<string, string | null>>;

/**
 * The text with some fields changed. Comments stay, except the one behind a changed value: it gave the reason for the
 * old one.
 * @throws InputError for a field that there is not, or a text that is no YAML; whether the values are right is not asked here
 */
export function editText<T>(kind: SettingKind<T>, text: string, edits: FieldEdits, source: string = kind.kind): string {
  if (text.trim() !== '') yamlOf(text, source);
  const document = parseDocument(text);
  for (const [key, value] of Object.entries(edits)) {
    const field = kind.fields.find((known) => known.key === key);
    if (field === undefined) throw inputError(source, key, `there is no such field; known are ${kind.fields.map((known) => known.key).join(', ')}`);
    const path = key.split('.');
    const wanted = value?.trim() ?? '';
    if (wanted === '') {
      if (document.hasIn(path)) document.deleteIn(path);
      const [group = ''] = path;
      const left = path.length > 1 ? document.get(group) : null;
      if (isMap(left) && left.items.length === 0) document.delete(group);
    } else if (!document.hasIn(path) || String(document.getIn(path)) !== wanted) {
      document.setIn(path, document.createNode(typed(field.kind, wanted)));
    }
  }
  return document.toString({ lineWidth: 0 });
}

function typed(kind: string, text: string): string | number | boolean {
  if (kind === 'switch' && (text === 'true' || text === 'false')) return text === 'true';
  return kind === 'count' && /^\d+$/.test(text) ? Number(text) : text;
}
