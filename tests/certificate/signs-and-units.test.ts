import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest';
import { bothUnits } from '../../src/certificate/both-units.js';
import { certificateContent } from '../../src/certificate/certificate-content.js';
import { certificatePdf } from '../../src/certificate/certificate-pdf.js';
import { labelPdf } from '../../src/certificate/label.js';
import { shopOf } from '../../src/certificate/shop.js';
import { shopSection } from '../../src/certificate/shop-section.js';
import { judge } from '../../src/core/judge.js';
import { importTrace } from '../../src/core/import/import-trace.js';
import { makeDocument } from '../../src/certificate/make-document.js';
import { addToRun } from '../../src/records/add-to-run.js';
import { judgingBy } from '../daemon/hand-bench.js';
import { pdfText } from './pdf-reading.js';
import { guarded, job, Recorded, shop } from './tested-bench.js';

let passed: Recorded;
beforeAll(() => {
  passed = new Recorded((bench) => bench.goodRun());
});
afterAll(() => passed.clear());

const doe = { who: 'J. Doe' };
const storeFor = (customer: string) => {
  const store = passed.store();
  addToRun(store, 1, { kind: 'job', ...job, customer }, doe);
  return store;
};
const oneLine = (text: string) => text.replaceAll(/\s+/g, ' ');

describe('signs that the font of a document lacks', () => {
  // DejaVu Sans covers Latin, Greek and Cyrillic, and no Han.
  it('are named by their number, never printed as an empty box, and the document says why', async () => {
    const store = storeFor('李 Hydraulics');
    const text = oneLine(pdfText(await certificatePdf(certificateContent(store, 1, shop))));
    expect(text).toContain('[U+674E] Hydraulics');
    expect(text).toContain('Signs in square brackets (U+...) are given by their Unicode number');
    expect(oneLine(pdfText(await labelPdf(certificateContent(store, 1, shop), 58)))).toContain('[U+674E]');
  });

  it.each(['Müller & Søn', 'Ιωάννης Παπαδόπουλος', 'Ивановъ Ґалаґан', 'Nguyễn Văn Ả', 'Škoda ≤ ½″'])('are not among those of %s', async (name) => {
    const text = oneLine(pdfText(await certificatePdf(certificateContent(storeFor(name), 1, shop))));
    expect(text).toContain(name);
    expect(text).not.toContain('[U+');
  });

  it('are written in the font that the shop names for them', async () => {
    // U+1D49E, a script C: in DejaVu Math and not in DejaVu Sans.
    const font = createRequire(import.meta.url).resolve('dejavu-fonts-ttf/ttf/DejaVuMathTeXGyre.ttf');
    const named = shopOf(shopSection.parse({ name: 'Meadow Lane Hydraulics', font }), 'Europe/Berlin');
    const store = storeFor('\u{1D49E} Works');
    expect(oneLine(pdfText(await certificatePdf(certificateContent(store, 1, shop))))).toContain('[U+1D49E] Works');
    const text = oneLine(pdfText(await certificatePdf(certificateContent(store, 1, named))));
    expect(text).toContain('\u{1D49E} Works');
    expect(text).not.toContain('[U+');
  });

  it('in a font that is none, or a collection, are refused with the place', () => {
    const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-font-'));
    onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
    const [none, collection] = [join(folder, 'a.ttf'), join(folder, 'b.ttc')];
    writeFileSync(none, readFileSync(import.meta.filename));
    writeFileSync(collection, 'ttcf and more');
    const read = (font: string) => shopOf(shopSection.parse({ name: 'Shop', font }), 'UTC', 'bench.yaml');
    expect(() => read(none)).toThrow(/bench\.yaml: shop\.font: '.*a\.ttf' is no TrueType or OpenType font/);
    expect(() => read(collection)).toThrow(/is a collection of fonts/);
    expect(() => read(join(folder, 'c.ttf'))).toThrow(/cannot be read; name a TrueType or OpenType font/);
  });
});

describe('pressures on paper', () => {
  // NIST SP 811 (2008), B.8: 1 psi = 6894.757 Pa, so 550 bar = 7977.08 psi; 1 bar = 0.1 MPa.
  it.each([
    ['550 bar (reached from 544.5 bar)', 'psi', '550 bar (7977 psi) (reached from 544.5 bar (7897 psi))'],
    ['loses 2.31 bar/min, at most 1.5 bar/min', 'psi', 'loses 2.31 bar/min (33.5 psi/min), at most 1.5 bar/min (22 psi/min)'],
    ['0.25 bar below', 'MPa', '0.25 bar (0.025 MPa) below'],
    ['552.04 bar', 'MPa', '552.04 bar (55.204 MPa)'],
    ['3 bars and a barrel, run 5 bar2', 'psi', '3 bars and a barrel, run 5 bar2'],
    ['550 bar', 'bar', '550 bar'],
  ] as const)('%s in %s', (text, unit, both) => expect(bothUnits(text, unit)).toBe(both));

  it('stand in bar as judge prints them to the digit, with the unit of the shop behind', async () => {
    const store = storeFor('Example Farm');
    const content = certificateContent(store, 1, { ...shop, unit: 'psi' });
    const { plan, thresholds } = judgingBy(guarded);
    const csv = (await makeDocument(store, { kind: 'trace', run: 1 }, shop)).bytes;
    const [again] = judge(importTrace(csv, 'trace.csv').trace, plan?.value ?? null, thresholds.value, store.getRun(1)?.instrument ?? {});
    const text = oneLine(pdfText(await certificatePdf(content)));
    const peak = again?.cycles[0]?.peak ?? 0;
    expect(text).toContain(`${peak} bar (${(peak * 14.5037738).toFixed(1)} psi)`);
    expect(text).toContain('550 bar (7977 psi)');
    for (const width of [58, 80] as const) expect(oneLine(pdfText(await labelPdf(content, width)))).toContain('Required: 550 bar (7977 psi)');
  });

  it('follow the unit that the plan was written in, where the shop says nothing', () => {
    const store = passed.store();
    const sealed = store.getRun(1);
    const source = "plan: short proof\ntestPressure: '55 MPa'\nholdTime: 3 s\n";
    const hash = store.keepVersion('plan', { ...(store.versions.get(sealed?.plan ?? '')?.content as object), plan: 'short proof in MPa' }, source);
    store.addEntry(1, { kind: 'judged-again', plan: hash, thresholds: sealed?.thresholds ?? '', outcome: JSON.parse(JSON.stringify(sealed?.outcome)) as Record<string, string> }, 'J. Doe');
    const required = certificateContent(store, 1, shop).plan.find(({ label }) => label === 'Required pressure');
    expect(required?.value).toBe('550 bar (55.0 MPa) (reached from 544.5 bar (54.45 MPa))');
    expect(certificateContent(store, 1, { ...shop, unit: 'bar' }).plan.find(({ label }) => label === 'Required pressure')?.value).toBe('550 bar (reached from 544.5 bar)');
  });
});
