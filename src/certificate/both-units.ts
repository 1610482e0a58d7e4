import { parse } from 'yaml';
import { fromBar, pressureUnitOf, type PressureUnit } from '../core/units.js';
import type { StoreReader } from '../records/store-reader.js';
import type { CertificateContent } from './certificate-content.js';
import type { Row } from './content-rows.js';

const inBar = /(?<![\w.])([+\-−]?\d+(?:\.\d+)?) bar(\/(?:s|min))?(?![\w/])/g;

/**
 * Every pressure of a text in a second unit too, in brackets: `548.2 bar (7951 psi)`. The first is left as the record has
 * it, to the digit; the second has as many figures as that resolves. Nothing is added for bar.
 */
export function bothUnits(text: string, unit: PressureUnit): string {
  if (unit === 'bar') return text;
  return text.replace(inBar, (first: string, number: string, rate = '') => {
    const digits = (number.split('.')[1] ?? '').length;
    const decimals = Math.min(Math.max(digits - Math.round(Math.log10(fromBar(1, unit))), 0), 4);
    const second = fromBar(Number(number.replace('−', '-')), unit).toFixed(decimals);
    return `${first} (${Number(second) === 0 ? second.replace('-', '') : second} ${unit}${rate})`;
  });
}

/** The unit in which a person wrote the test pressure of a plan; bar where nobody did. */
export function unitOfPlan(store: StoreReader, hash: string | null): PressureUnit {
  const source = hash === null ? null : (store.versions.get(hash)?.source ?? null);
  if (source === null) return 'bar';
  try {
    const plan: unknown = parse(source);
    const written = typeof plan === 'object' && plan !== null && 'testPressure' in plan && typeof plan.testPressure === 'string' ? plan.testPressure : '';
    return pressureUnitOf(written.replace(/^[\s+\-\d.,]+/, '')) ?? 'bar';
  } catch {
    return 'bar'; // a text of another kind: the plan itself is kept apart from it
  }
}

/** A certificate with its pressures in a second unit too. The columns of the findings stay in bar, as their heads say. */
export function contentInBothUnits(content: CertificateContent, unit: PressureUnit): CertificateContent {
  if (unit === 'bar') return content;
  const both = (text: string): string => bothUnits(text, unit);
  const rows = (list: readonly Row[]): Row[] => list.map(({ label, value }) => ({ label, value: value === null ? null : both(value) }));
  return {
    ...content,
    reasons: content.reasons.map(both),
    plan: rows(content.plan),
    measured: content.measured.map(rows),
    instrument: rows(content.instrument),
    irregularities: content.irregularities.map(both),
    findings: content.findings.map((finding) => ({ ...finding, sentence: both(finding.sentence) })),
  };
}
