/** One sample line of the Prometheus text format. */
export interface MetricSample {
  readonly name: string;
  readonly labels: Readonly<Record<string, string>>;
  readonly value: number;
}

export interface MetricFamily {
  readonly type: string;
  readonly help: string;
  readonly samples: readonly MetricSample[];
}

const name = /^[a-zA-Z_:][a-zA-Z0-9_:]*$/;
const number = /^(?:[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?|[+-]?Inf|NaN)$/;

/**
 * A strict reader of the text format, version 0.0.4, as the Prometheus documentation describes it ("Exposition formats"):
 * names, labels with their escapes, numbers, HELP and TYPE before the samples, one group a family, no series twice.
 * @throws Error at the first line that is anything else
 */
export function readMetrics(text: string): Map<string, MetricFamily> {
  if (!text.endsWith('\n')) throw new Error('the last line has no line end');
  const families = new Map<string, { type: string; help: string; samples: MetricSample[] }>();
  const series = new Set<string>();
  let current = '';
  const closed = new Set<string>();
  const family = (of: string) => {
    if (of !== current) {
      if (closed.has(of)) throw new Error(`${of} comes in two places`);
      if (current !== '') closed.add(current);
      current = of;
    }
    const known = families.get(of) ?? { type: 'untyped', help: '', samples: [] };
    families.set(of, known);
    return known;
  };
  for (const line of text.slice(0, -1).split('\n')) {
    if (line === '') continue;
    const [, keyword, of, rest] = /^# (HELP|TYPE) (\S+) (.*)$/.exec(line) ?? [];
    if (keyword !== undefined && of !== undefined && rest !== undefined) {
      if (!name.test(of)) throw new Error(`not a name: ${line}`);
      const known = family(of);
      if (known.samples.length > 0) throw new Error(`${keyword} after samples: ${line}`);
      if (keyword === 'HELP') known.help = rest;
      else if (/^(counter|gauge|histogram|summary|untyped)$/.test(rest)) known.type = rest;
      else throw new Error(`not a type: ${line}`);
      continue;
    }
    if (line.startsWith('#')) continue;
    const sample = readSample(line);
    const identity = JSON.stringify([sample.name, Object.entries(sample.labels).sort()]);
    if (series.has(identity)) throw new Error(`twice: ${line}`);
    series.add(identity);
    family(familyOf(sample.name, families, current)).samples.push(sample);
  }
  for (const [of, { type, samples }] of families) {
    if (type === 'counter' && samples.some(({ value }) => !(value >= 0))) throw new Error(`${of} is a counter below 0`);
  }
  return families;
}

/** The samples of a histogram or summary carry endings of their own. */
function familyOf(sample: string, families: ReadonlyMap<string, { type: string }>, current: string): string {
  const base = sample.replace(/_(bucket|sum|count)$/, '');
  return base === current && /histogram|summary/.test(families.get(base)?.type ?? '') ? base : sample;
}

function readSample(line: string): MetricSample {
  const [, sample, labelled, rest] = /^([a-zA-Z_:][a-zA-Z0-9_:]*)(\{.*\})? (\S+)$/.exec(line) ?? [];
  if (sample === undefined || rest === undefined || !number.test(rest)) throw new Error(`not a sample: ${line}`);
  const labels: Record<string, string> = {};
  let left = labelled?.slice(1, -1) ?? '';
  while (left !== '') {
    const [whole, label, value] = /^([a-zA-Z_][a-zA-Z0-9_]*)="((?:[^"\\\n]|\\[\\"n])*)"(?:,|$)/.exec(left) ?? [];
    if (whole === undefined || label === undefined || value === undefined || label in labels) throw new Error(`not labels: ${line}`);
    labels[label] = value.replaceAll(/\\(.)/g, (_all, escaped: string) => (escaped === 'n' ? '\n' : escaped));
    left = left.slice(whole.length);
  }
  return { name: sample, labels, value: rest === 'NaN' ? NaN : rest.endsWith('Inf') ? (rest.startsWith('-') ? -Infinity : Infinity) : Number(rest) };
}
