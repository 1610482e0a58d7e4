import type { Comparison } from './compare.js';

/** Figures over many comparisons. */
export interface Figures {
  readonly runs: number;
  readonly falsePasses: number;
  /** Share of right verdicts where the truth is decidable, and where it is not (any acceptable verdict counts). */
  readonly right: number;
  readonly rightElsewhere: number;
  readonly holdStartP95: number;
  readonly leakRatio: number;
  readonly leakBias: number;
  readonly coverage: number;
  readonly spikeRecall: number;
  readonly spikePrecision: number;
  readonly glitchRecall: number;
  readonly glitchPrecision: number;
  readonly peakP95: number;
}

const share = (part: number, whole: number): number => (whole === 0 ? NaN : part / whole);

function quantile(values: number[], q: number): number {
  if (values.length === 0) return NaN;
  values.sort((a, b) => a - b);
  return values[Math.min(values.length - 1, Math.floor(q * values.length))] as number;
}

/** Sums comparisons up. */
export function figuresOf(all: readonly Comparison[]): Figures {
  const decidable = all.filter((c) => c.decidable);
  const others = all.filter((c) => !c.decidable);
  const leaks = all.map((c) => c.leak).filter((l) => l !== null);
  const sum = (pick: (c: Comparison) => number) => all.reduce((total, c) => total + pick(c), 0);
  return {
    runs: all.length,
    falsePasses: all.filter((c) => c.falsePass).length,
    right: share(decidable.filter((c) => c.right).length, decidable.length),
    rightElsewhere: share(others.filter((c) => c.right).length, others.length),
    holdStartP95: quantile(all.filter((c) => c.holdStart !== null).map((c) => Math.abs(c.holdStart as number)), 0.95),
    leakRatio: Math.sqrt(quantile(leaks.map((l) => (l.error / l.bound) ** 2), 0.5) / 0.4549),
    leakBias: leaks.length === 0 ? NaN : leaks.reduce((t, l) => t + l.error / l.standardError, 0) / leaks.length,
    coverage: share(leaks.filter((l) => Math.abs(l.error) <= 1.96 * l.standardError).length, leaks.length),
    spikeRecall: share(sum((c) => c.spikes.found), sum((c) => c.spikes.found + c.spikes.missed)),
    spikePrecision: share(sum((c) => c.spikes.found), sum((c) => c.spikes.found + c.spikes.false)),
    glitchRecall: share(sum((c) => c.glitches.found), sum((c) => c.glitches.found + c.glitches.missed)),
    glitchPrecision: share(sum((c) => c.glitches.found), sum((c) => c.glitches.found + c.glitches.false)),
    peakP95: quantile(all.filter((c) => c.peakExcess !== null).map((c) => Math.abs(c.peakExcess as number)), 0.95),
  };
}

const columns: readonly [string, keyof Figures, (value: number) => string][] = [
  ['runs', 'runs', String],
  ['false pass', 'falsePasses', String],
  ['right', 'right', (v) => (Number.isNaN(v) ? '' : `${(100 * v).toFixed(1)} %`)],
  ['undecidable ok', 'rightElsewhere', (v) => (Number.isNaN(v) ? '' : `${(100 * v).toFixed(0)} %`)],
  ['hold p95 s', 'holdStartP95', (v) => (Number.isNaN(v) ? '' : v.toFixed(2))],
  ['peak p95 bar', 'peakP95', (v) => (Number.isNaN(v) ? '' : v.toFixed(2))],
  ['leak/bound', 'leakRatio', (v) => (Number.isNaN(v) ? '' : v.toFixed(2))],
  ['bias/se', 'leakBias', (v) => (Number.isNaN(v) ? '' : v.toFixed(2))],
  ['covers', 'coverage', (v) => (Number.isNaN(v) ? '' : `${(100 * v).toFixed(0)} %`)],
  ['spike r/p', 'spikeRecall', (v) => (Number.isNaN(v) ? '' : v.toFixed(3))],
  ['', 'spikePrecision', (v) => (Number.isNaN(v) ? '' : v.toFixed(3))],
  ['glitch r/p', 'glitchRecall', (v) => (Number.isNaN(v) ? '' : v.toFixed(3))],
  ['', 'glitchPrecision', (v) => (Number.isNaN(v) ? '' : v.toFixed(3))],
];

/** The table as lines of text: one line a family, then all together, then the worst traces by name. */
export function tableOf(all: readonly Comparison[]): string[] {
  const families = [...new Set(all.map((c) => c.family))];
  const rows = [
    ...families.map((family) => [family, figuresOf(all.filter((c) => c.family === family))] as const),
    ['ALL', figuresOf(all)] as const,
  ];
  const wide = Math.max(...rows.map(([name]) => name.length));
  const head = `${'family'.padEnd(wide)}  ${columns.map(([title]) => title.padStart(14)).join('')}`;
  const lines = rows.map(([name, f]) => `${name.padEnd(wide)}  ${columns.map(([, key, show]) => show(f[key]).padStart(14)).join('')}`);
  const wrong = all.filter((c) => c.falsePass || !c.right).sort((a, b) => Number(b.falsePass) - Number(a.falsePass) || Number(b.decidable) - Number(a.decidable));
  const worst = wrong.slice(0, 60).map((c) => `${c.falsePass ? 'FALSE PASS ' : c.decidable ? 'wrong ' : 'wrong (undecidable) '}${c.name}: ${c.verdict}, true ${c.truth}; ${c.said}`);
  return [head, ...lines, '', wrong.length === 0 ? 'No verdict was wrong.' : `Wrong verdicts (${wrong.length}):`, ...worst];
}
