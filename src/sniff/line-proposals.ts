import { signalUnitOf } from '../../drivers/signal-unit.js';

/** How the lines could be read: keys of a line driver's options, and what that means. */
export interface Proposal {
  readonly options: Readonly<Record<string, unknown>>;
  readonly means: string;
}

/** Most fields of one line that are thought of as the pressure. */
const mostFields = 12;
const escaped = (text: string): string => text.replaceAll(/[.*+?^${}()|[\]\\/]/g, String.raw`\$&`);
const numeric = /^[-+]?\s*(?:\d+(?:[.,]\d+)*|[.,]\d+)(?:[eE][-+]?\d+)?$/;

/** Ways to read these lines, the simplest first. What fits is found by reading the lines with each. */
export function proposalsFor(lines: readonly string[]): Proposal[] {
  const trimmed = lines.map((line) => line.trim()).filter((line) => line !== '');
  const talking = trimmed.filter((line) => /^[$!].*\*[0-9A-Fa-f]{2}$/.test(line));
  if (talking.length > trimmed.length / 2) return talkers(talking);
  const comments = trimmed.some((line) => line.startsWith('#')) ? { ignoreLines: '#.*' } : {};
  const rest = trimmed.filter((line) => !line.startsWith('#'));
  return [...freely(rest), ...inColumns(rest), ...byPattern(rest)].map(({ options, means }) => ({ options: { ...options, ...comments }, means }));
}

/** A number, an optional label before it and an optional unit behind it. */
function freely(lines: readonly string[]): Proposal[] {
  const labels = [...new Set(lines.flatMap((line) => /^([A-Za-z][A-Za-z0-9_]*)\s*[=:]/.exec(line)?.[1] ?? []))].slice(0, mostFields);
  const plain: Proposal = { options: {}, means: 'a number, perhaps with a label before it and a unit behind it' };
  return [
    plain,
    ...labels.map((label) => ({
      options: { label, ...(labels.length > 1 && { ignoreLines: `(?!${label}\\s*[=:]).*` }) },
      means: `lines that begin with ${label}`,
    })),
  ];
}

function inColumns(lines: readonly string[]): Proposal[] {
  return [';', ',', '\t', '|', ' '].flatMap((separator) => {
    const rows = lines.map((line) => (separator === ' ' ? line.split(/ +/) : line.split(separator)).map((field) => field.trim()));
    const columns = commonest(rows.map((row) => row.length)) ?? 0;
    const same = rows.filter((row) => row.length === columns);
    if (columns < 2 || columns > 200 || same.length < rows.length * 0.8) return [];
    const units = Array.from({ length: columns }, (_, at) => at).filter((at) => same.every((row) => signalUnitOf(row[at] ?? '') !== undefined));
    const values = Array.from({ length: columns }, (_, at) => at).filter((at) => same.filter((row) => numeric.test(row[at] ?? '')).length > same.length / 2);
    return values.slice(0, mostFields).map((at) => {
      const unit = units.find((each) => each > at);
      const named = separator === '\t' ? 'tab' : separator === ' ' ? 'blank' : `'${separator}'`;
      return {
        options: { separator, column: at + 1, columns, ...(unit !== undefined && { unitColumn: unit + 1 }) },
        means: `column ${at + 1} of ${columns}, separated by ${named}`,
      };
    });
  });
}

/** A piece of a line: digits, letters, blanks, or another character. */
const piece = /[-+]?\d+(?:[.,]\d+)*|[A-Za-z%][A-Za-z0-9/%]*|\s+|./g;
const kindOf = (text: string): string => (/^[-+]?\d/.test(text) ? 'number' : /^[A-Za-z%]/.test(text) ? 'word' : /^\s/.test(text) ? 'blank' : text);

/** A regular expression for lines that are all made alike, with each of their numbers in turn as the value. */
function byPattern(lines: readonly string[]): Proposal[] {
  const split = lines.map((line) => line.match(piece) ?? []);
  const shape = commonest(split.map((pieces) => pieces.map(kindOf).join('\u0000')));
  const alike = split.filter((pieces) => pieces.map(kindOf).join('\u0000') === shape);
  const [model] = alike;
  if (model === undefined || alike.length < lines.length / 2 || model.length > 60) return [];
  const kinds = model.map(kindOf);
  const words = kinds.map((_, at) => [...new Set(alike.map((pieces) => pieces[at] ?? ''))]);
  return kinds.flatMap((kind, value) => (kind === 'number' ? [value] : [])).slice(0, mostFields).map((value, nth) => {
    let unit = false;
    let state = false;
    const parts = kinds.map((kind, at) => {
      if (at === value) return '(?<value>[-+]?\\s*[\\d.,]+)';
      if (kind === 'number') return '[-+]?[\\d.,]+';
      if (kind === 'blank') return ' *';
      if (kind !== 'word') return escaped(kind);
      const seen = words[at] ?? [];
      if (at > value && !unit && seen.every((word) => signalUnitOf(word) !== undefined)) {
        unit = true;
        return `(?<unit>${seen.map(escaped).join('|')})`;
      }
      if (at > value && !state && seen.every((word) => /^[A-Z]{1,2}$/.test(word)) && at === kinds.length - 1) {
        state = true;
        return '(?<state>[A-Z]+)';
      }
      return seen.length === 1 ? escaped(seen[0] ?? '') : '\\S+';
    });
    return { options: { pattern: parts.join('') }, means: `number ${nth + 1} of a line with a fixed layout` };
  });
}

/** Lines `$...*hh`: each number of each talker. */
function talkers(lines: readonly string[]): Proposal[] {
  const byHead = new Map<string, string[][]>();
  for (const line of lines) {
    const fields = line.slice(1, -3).split(',');
    const head = fields[0] ?? '';
    byHead.set(head, [...(byHead.get(head) ?? []), fields]);
  }
  return [...byHead].flatMap(([head, rows]) => {
    const width = commonest(rows.map((row) => row.length)) ?? 0;
    const fields = Array.from({ length: width }, (_, at) => at).filter((at) => at > 0 && rows.some((row) => numeric.test(row[at] ?? '')));
    const others = byHead.size > 1 ? { ignoreLines: `[$!](?!${escaped(head)},).*` } : {};
    return fields.slice(0, mostFields).map((at) => ({
      options: { checksum: 'xor', pattern: [escaped(head), ...Array.from({ length: width - 1 }, (_, i) => (i + 1 === at ? '(?<value>[^,]*)' : '[^,]*'))].join(','), ...others },
      means: `field ${at} of the lines ${head}`,
    }));
  });
}

function commonest<T>(items: readonly T[]): T | undefined {
  const counts = new Map<T, number>();
  for (const item of items) counts.set(item, (counts.get(item) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1])[0]?.[0];
}
