import { isNode, isScalar, LineCounter, parseDocument } from 'yaml';
import { decodeText } from '../core/import/decode-text.js';
import { findDelimiter } from '../core/import/rows.js';
import { InputError, inputError } from '../core/problems.js';
import { readBytes } from './input-file.js';

/** A YAML file that was read, with the way back from a field to its line. */
export interface YamlFile {
  readonly path: string;
  readonly value: unknown;
  /** Runs `parse` on the value; its problems are told with their lines. */
  check<T>(parse: (value: unknown, source: string) => T): T;
}

/**
 * Reads a file of YAML.
 * @param from where its bytes are, when a copy stands in for it; sentences and relative paths go by `path`
 * @throws InputError that names the line of the first thing that is not YAML
 */
export function readYamlFile(path: string, from = path): YamlFile {
  return yamlOf(decodeText(readBytes(from)), path);
}

/**
 * Reads YAML that somebody wrote, whether it lies in a file already or not.
 * @param path for sentences
 * @throws InputError that names the line of the first thing that is not YAML
 */
export function yamlOf(text: string, path: string): YamlFile {
  if (text.replaceAll('\0', '').trim() === '') throw inputError(path, '', 'the file is empty');
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, uniqueKeys: true });
  const error = document.errors[0];
  if ((error || isScalar(document.contents)) && findDelimiter(text) !== undefined) throw inputError(path, '', "is a trace, not a file of 'key: value' lines such as a plan or a bench file");
  if (error) {
    const line = error.linePos?.[0].line ?? lines.linePos(error.pos[0]).line;
    const said = error.message.split(/ at line \d/)[0]?.split('\n')[0] ?? '';
    throw inputError(path, `line ${line}`, `is not valid YAML: ${said.charAt(0).toLowerCase()}${said.slice(1)}`, error);
  }
  const lineOf = (place: string): number | undefined => {
    const steps = place.split('.').map((step) => (/^\d+$/.test(step) ? Number(step) : step));
    const node = place === '' ? undefined : document.getIn(steps, true);
    return isNode(node) && node.range ? lines.linePos(node.range[0]).line : undefined;
  };
  const value: unknown = document.toJS({ maxAliasCount: 100 });
  return {
    path,
    value,
    check(parse) {
      try {
        return parse(value, path);
      } catch (cause) {
        if (!(cause instanceof InputError)) throw cause;
        const problems = cause.problems.map(({ place, text }) => {
          const line = lineOf(place);
          return { place: line === undefined ? place : `line ${line}, ${place}`, text };
        });
        throw new InputError(cause.source, problems, { cause });
      }
    },
  };
}
