import type { z } from 'zod';
import { keysUnder } from './known-keys.js';
import { cut, quoted } from './quoted.js';

/** One thing wrong with something that a person wrote. */
export interface Problem {
  /** Where: a field path such as `holdTime` or `channels.0.unit`, a line, a port; empty for the whole file. */
  readonly place: string;
  /** What is there and what would be right, as one clear sentence without a full stop at the end. */
  readonly text: string;
}

/** Input that a person must correct. Every command turns it into exit code 2 and writes nothing. */
export class InputError extends Error {
  override readonly name = 'InputError';
  constructor(
    /** File name, port or option that the problems are in. */
    readonly source: string,
    readonly problems: readonly Problem[],
    options?: ErrorOptions,
  ) {
    super(problems.map((p) => problemLine(source, p)).join('\n'), options);
  }
}

/** `plan.yaml: holdTime: '60' has no unit; write for example '60 s'`. */
export function problemLine(source: string, problem: Problem): string {
  return [source, problem.place, problem.text].filter((part) => part !== '').join(': ');
}

/** An `InputError` with a single problem. */
export function inputError(source: string, place: string, text: string, cause?: unknown): InputError {
  return new InputError(source, [{ place, text }], cause === undefined ? undefined : { cause });
}

const shown = (value: unknown): string =>
  value === undefined ? 'nothing' : typeof value === 'string' ? quoted(value) : cut(JSON.stringify(value) ?? typeof value);

const at = (value: unknown, path: readonly PropertyKey[]): unknown =>
  path.reduce<unknown>(
    (part, key) => (typeof part === 'object' && part !== null ? (part as Record<PropertyKey, unknown>)[key] : undefined),
    value,
  );

/** The known word nearest to a mistyped one, if it is near enough to be meant. */
export function nearest(word: string, known: readonly string[]): string | undefined {
  let best: string | undefined;
  let least = Math.max(2, Math.floor(word.length / 3)) + 1;
  for (const candidate of known) {
    const d = editDistance(word.toLowerCase(), candidate.toLowerCase());
    if (d < least) {
      least = d;
      best = candidate;
    }
  }
  return best;
}

/** Levenshtein (1966): insertions, deletions and substitutions that turn one word into the other. */
function editDistance(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++) {
      const change = (row[j - 1] ?? 0) + (a[i - 1] === b[j - 1] ? 0 : 1);
      next.push(Math.min((row[j] ?? 0) + 1, (next[j - 1] ?? 0) + 1, change));
    }
    row = next;
  }
  return row[b.length] ?? 0;
}

/**
 * zod's issues as sentences for people: place, value, what would be right.
 * @param knownKeys of the whole file; @param schema by which the keys of a place are told, where a file has many
 */
export function problemsOf(error: z.ZodError, input: unknown, knownKeys: readonly string[], schema?: z.ZodType): Problem[] {
  return error.issues.flatMap((issue): Problem[] => {
    const place = issue.path.map(String).join('.');
    const value = at(input, issue.path);
    switch (issue.code) {
      case 'unrecognized_keys':
        return issue.keys.map((key) => {
          if (knownKeys.includes(key)) return { place: [place, cut(key)].filter(Boolean).join('.'), text: `this key does not belong ${place === '' ? 'at the top' : `under '${place}'`}` };
          const here = schema === undefined ? [] : keysUnder(schema, issue.path, input);
          const hint = nearest(key, here.length > 0 ? here : knownKeys);
          return {
            place: [place, cut(key)].filter(Boolean).join('.'),
            text: `unknown key${hint ? `; did you mean '${hint}'?` : `; known keys ${here.length > 0 ? 'here ' : ''}are ${(here.length > 0 ? here : knownKeys).join(', ')}`}`,
          };
        });
      case 'invalid_type':
        // The whole file is a text, a number or a list.
        if (place === '' && issue.expected === 'object') return [{ place, text: "holds no 'key: value' lines" }];
        return [
          {
            place,
            text: value === undefined ? `missing; it must be ${article(issue.expected)}` : `${shown(value)} should be ${article(issue.expected)}`,
          },
        ];
      case 'invalid_value':
        return [{ place, text: `${shown(value)} should be one of ${issue.values.map((v) => String(v)).join(', ')}` }];
      default:
        return [{ place, text: issue.message }];
    }
  });
}

const article = (type: string): string => (/^[aeiou]/.test(type) ? `an ${type}` : `a ${type}`);
