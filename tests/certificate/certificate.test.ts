import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { unzipSync } from 'fflate';
import Papa from 'papaparse';
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest';
import { certificateContent } from '../../src/certificate/certificate-content.js';
import { certificatePdf } from '../../src/certificate/certificate-pdf.js';
import { makeDocument } from '../../src/certificate/make-document.js';
import { labelText } from '../../src/certificate/label.js';
import { sealIn } from '../../src/certificate/seal-code.js';
import { importTrace } from '../../src/core/import/import-trace.js';
import { judge } from '../../src/core/judge.js';
import { addToRun } from '../../src/records/add-to-run.js';
import { parseExported, verifyExported } from '../../src/records/exported-record.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import type { Store } from '../../src/records/store.js';
import { judgingBy } from '../daemon/hand-bench.js';
import { pdfFacts, pdfText } from './pdf-reading.js';
import { calibration, guarded, job, leakingRun, Recorded, shop } from './tested-bench.js';

const doe = { who: 'J. Doe' };
const seen = { kind: 'visual-finding', finding: 'no leakage seen' } as const;

let passed: Recorded;
let uncalibrated: Recorded;
/** Run 1 leaked, run 2 passed. */
let mixed: Recorded;
beforeAll(() => {
  passed = new Recorded((bench) => bench.goodRun());
  uncalibrated = new Recorded((bench) => bench.goodRun(), {});
  mixed = new Recorded((bench) => {
    leakingRun(bench);
    bench.goodRun();
  });
});
afterAll(() => [passed, uncalibrated, mixed].forEach((recorded) => recorded.clear()));

const pdfOf = (store: Store, run = 1, assembly?: string) => certificatePdf(certificateContent(store, run, shop, assembly === undefined ? {} : { assembly }));
const oneLine = (text: string) => text.replaceAll(/\s+/g, ' ');

describe('the certificate of a run that passed', () => {
  let store: Store;
  let bytes: Uint8Array;
  let text: string;
  const make = async () => {
    store = passed.store();
    addToRun(store, 1, { kind: 'job', ...job }, doe);
    addToRun(store, 1, seen, doe);
    bytes = await pdfOf(store);
    text = pdfText(bytes);
  };

  it('says who, what, by which plan, with which transducer, seen by whom, and is sealed', async () => {
    await make();
    const words = [
      'Meadow Lane Hydraulics', 'Certificate of a proof pressure test', 'Number 1-3', 'Run 1 on north bench, 2027-03-01 10:00:02 +01:00 to 2027-03-01 10:00:25 +01:00 (Europe/Berlin)',
      'PASS', '4711', 'Example Farm, ref. 88', 'two-wire DN12', 'L-33', 'DKO 15L ≤ 315 bar, both ends', 'water', 'A17-001', 'A17-003', 'attempt 1 of 1',
      'no leakage seen. Stated by J. Doe', '550 bar (reached from 544.5 bar)', '600 bar', 'guarded', 'T-7', 'C-118', '2026-09-01', '2027-09-01', '0.25 % of span',
      'dwellkeeper test', 'no safety device', 'Tested by: J. Doe', 'Released by: M. Roe', 'page 1 of 2', store.ledger.last()?.seal ?? 'no seal', 'A spike shorter than',
    ];
    for (const word of words) expect(oneLine(text)).toContain(word);
    expect(text).not.toMatch(/PROVISIONAL|NO CERTIFICATE|not given|not known/);
    expect(pdfFacts(bytes)).toMatchObject({ Title: 'Certificate of a proof pressure test 1-3', Author: 'Meadow Lane Hydraulics', Pages: '2', 'Page size': '595.28 x 841.89 pts (A4)' });
    expect(verifyLedger(store, { knownSeal: certificateContent(store, 1, shop).seal })).toMatchObject({ intact: true });
  });

  it('is the same to the byte whenever it is made', async () => {
    await make();
    expect(Buffer.from(await pdfOf(store)).equals(Buffer.from(bytes))).toBe(true);
  });

  it('has the numbers of the outcome to the printed digit, which are those of the exported trace judged again', async () => {
    await make();
    const { plan, thresholds } = judgingBy(guarded);
    const csv = (await makeDocument(store, { kind: 'trace', run: 1 }, shop)).bytes;
    const [again] = judge(importTrace(csv, 'trace.csv').trace, plan?.value ?? null, thresholds.value, store.getRun(1)?.instrument ?? {});
    const flat = oneLine(text);
    expect(again?.verdict).toBe('pass');
    for (const { rule, measured, limit, uncertainty, unit } of again?.findings ?? []) {
      if (measured === null) continue;
      const figures = [measured, limit, ...(uncertainty === null ? [] : [`± ${Number(uncertainty.toPrecision(3))}`]), unit].filter((part) => part !== null).join(' ');
      expect(flat).toContain(`${rule} ✓ met ${figures}`);
    }
    const [cycle] = again?.cycles ?? [];
    for (const value of [cycle?.peak, cycle?.holdStartPressure, cycle?.holdMinimum, cycle?.drop]) expect(flat).toContain(`${value} bar`);
  });

  it('carries its seal in a code that another program reads from the printed page', async () => {
    await make();
    const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-code-'));
    onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
    writeFileSync(join(folder, 'c.pdf'), bytes);
    execFileSync('pdftoppm', ['-r', '120', '-png', '-f', '1', '-l', '1', '-singlefile', 'c.pdf', 'c'], { cwd: folder });
    const code = execFileSync('zbarimg', ['-q', '--raw', '--nodbus', 'c.png'], { cwd: folder, encoding: 'utf8' }).trim();
    expect(sealIn(code)).toBe(store.ledger.last()?.seal);
    expect(verifyLedger(store, { knownSeal: sealIn(code) ?? '' }).intact).toBe(true);
  });

  it('comes on Letter paper, too', async () => {
    await make();
    const made = await makeDocument(store, { kind: 'certificate', run: 1, paper: 'Letter' }, shop);
    expect(pdfFacts(made.bytes)).toMatchObject({ 'Page size': '612 x 792 pts (letter)' });
    expect(made.name).toBe('certificate-1-3.pdf');
  });
});

describe('what is no certificate cannot be taken for one', () => {
  it('FC-49: without a transducer serial it is provisional and says exactly what is missing', async () => {
    const store = uncalibrated.store();
    addToRun(store, 1, { kind: 'job', ...job }, doe);
    addToRun(store, 1, seen, doe);
    const text = oneLine(pdfText(await pdfOf(store)));
    expect(text).toContain('PROVISIONAL Not to be handed over as a certificate: incomplete: instrument serial, calibration certificate, calibration date, calibration due date.');
    expect(text).not.toContain('Certificate of a proof pressure test');
  });

  it('without a visual finding it says plainly that there is none', async () => {
    const store = passed.store();
    addToRun(store, 1, { kind: 'job', ...job }, doe);
    const text = oneLine(pdfText(await pdfOf(store)));
    expect(text).toContain('PROVISIONAL Not to be handed over as a certificate: incomplete: visual finding.');
    expect(text).toContain('There is no visual finding: nobody has stated whether leakage was seen.');
  });

  it('without a job every missing detail is named, none is blank', async () => {
    const store = passed.store();
    const text = oneLine(pdfText(await pdfOf(store)));
    expect(text).toContain('incomplete: order, customer, assembly serials, hose, hose lot, end fittings, medium, operator, responsible person, visual finding, earlier attempts.');
    expect(text.match(/not given/g)?.length).toBeGreaterThanOrEqual(8);
  });

  it('a run that failed gets a report, and each assembly on the manifold is to be tested alone', async () => {
    const store = mixed.store();
    addToRun(store, 1, { kind: 'job', ...job }, doe);
    addToRun(store, 1, seen, doe);
    const bytes = await pdfOf(store);
    const text = oneLine(pdfText(bytes));
    expect(text).toContain('Report of a pressure test that was not passed');
    expect(text).toContain('NO CERTIFICATE This run was not passed.');
    expect(text.match(/RETEST ALONE/g)).toHaveLength(3);
    expect(text).not.toMatch(/\bPASS\b|Certificate of/);
    expect(pdfFacts(bytes)['Title']).toMatch(/^Report of a pressure test that was not passed/);
  });

  it('leakage that was seen fails its assembly; the others keep their certificate; the change is told', async () => {
    const store = passed.store();
    addToRun(store, 1, { kind: 'job', ...job }, doe);
    addToRun(store, 1, seen, doe);
    addToRun(store, 1, { kind: 'visual-finding', finding: 'leakage seen', leaks: [{ assembly: 'A17-002', at: 'crimp, end B' }] }, { ...doe, why: 'second look with a lamp' });
    const whole = oneLine(pdfText(await pdfOf(store)));
    expect(whole).toContain('NO CERTIFICATE');
    expect(whole).toContain('second look with a lamp (before: no leakage seen, by J. Doe)');
    expect(oneLine(pdfText(await pdfOf(store, 1, 'A17-002')))).toContain('A17-002: leakage was seen at crimp, end B.');
    const other = pdfText(await pdfOf(store, 1, 'a17-001'));
    expect(other).toContain('Certificate of a proof pressure test');
    expect(oneLine(other)).toContain('Number 1-4, for assembly A17-001');
    expect(() => certificateContent(store, 1, shop, { assembly: 'B9' })).toThrow("run 1: assembly: 'B9' is not on it; it names A17-001, A17-002, A17-003");
  });

  it('FC-50: names the attempt and the earlier one that was not passed', async () => {
    const store = mixed.store();
    const one = { ...job, assemblies: ['A-101'] };
    addToRun(store, 1, { kind: 'job', ...one }, doe);
    addToRun(store, 2, { kind: 'job', ...one, retestOf: 1 }, doe);
    addToRun(store, 2, seen, doe);
    const text = oneLine(pdfText(await pdfOf(store, 2)));
    expect(text).toContain('attempt 2 of 2, run 1 not passed');
    expect(text).toContain('Retest of');
    expect(text).toContain('Certificate of a proof pressure test');
  });

  it('a run that is still going on has no document', () => {
    const rising = new Recorded((bench) => bench.ramp(0, 560, 10));
    const store = rising.store();
    rising.clear();
    expect(() => certificateContent(store, 1, shop)).toThrow('run 1: is still going on');
    expect(() => certificateContent(store, 9, shop)).toThrow('run 9: there is no such run');
  });
});

describe('labels and batches', () => {
  let store: Store;
  const make = () => {
    store = mixed.store();
    addToRun(store, 1, { kind: 'job', ...job, remark: '=1+1' }, doe);
    addToRun(store, 2, { kind: 'job', ...job, assemblies: ['A17-001'], retestOf: 1 }, doe);
    addToRun(store, 2, seen, doe);
  };

  it.each([58, 80] as const)('a label for paper of %d mm fits it, as text in plain signs and as a PDF with the code', async (width) => {
    make();
    const text = labelText(certificateContent(store, 2, shop, { assembly: 'A17-001' }), width);
    const most = width === 58 ? 32 : 48;
    for (const line of text.split('\n')) expect(line.length).toBeLessThanOrEqual(most);
    expect(text).toMatch(/^[\x20-\x7e\n]*$/);
    for (const word of ['*** PASS ***', 'A17-001', 'Order: 4711', 'no leakage seen']) expect(text).toContain(word);
    expect(labelText(certificateContent(store, 1, shop), width)).toContain('NO CERTIFICATE');
    const { bytes } = await makeDocument(store, { kind: 'label', run: 2, width, form: 'pdf' }, shop);
    const facts = pdfFacts(bytes);
    expect(facts['Pages']).toBe('1');
    expect(Number.parseFloat(facts['Page size'] ?? '')).toBeCloseTo((width / 25.4) * 72, 1);
    expect(oneLine(pdfText(bytes))).toContain('A17-001');
  });

  it('a label as text is in the signs that the printer has, and says what had to be replaced', async () => {
    store = passed.store();
    addToRun(store, 1, { kind: 'job', ...job, customer: 'Müller 李' }, doe);
    const label = (charset?: 'CP850' | 'UTF-8') => makeDocument(store, { kind: 'label', run: 1, width: 58, form: 'text', ...(charset && { charset }) }, { ...shop, labelCharset: 'ascii' });
    const [plain, page, all] = [await label(), await label('CP850'), await label('UTF-8')];
    const said = oneLine(Buffer.from(plain.bytes).toString('latin1'));
    for (const words of ['Muller [U+674E]', 'Letters that this printer lacks stand here in a plainer form; the record has them as written.', '[U+...]: signs that it lacks, by their Unicode number.']) expect(said).toContain(words);
    // CP850 has the letter at 81h.
    expect(page.type).toBe('text/plain; charset=IBM850');
    expect(Buffer.from(page.bytes).includes(Buffer.from('M\x81ller [U+674E]', 'latin1'))).toBe(true);
    expect(oneLine(Buffer.from(page.bytes).toString('latin1'))).not.toContain('plainer form');
    expect(Buffer.from(all.bytes).toString('utf8')).toContain('Müller 李');
    expect(Buffer.from(all.bytes).toString('utf8')).not.toContain('[U+');
  });

  it('an order is one document: each assembly by its newest run, then every run', async () => {
    make();
    const { bytes, name } = await makeDocument(store, { kind: 'order', order: ' 4711 ', form: 'pdf' }, shop);
    const text = oneLine(pdfText(bytes));
    expect(name).toBe('order-4711.pdf');
    expect(text).toContain('1 of 3 assemblies passed, in 2 runs.');
    expect(text).toMatch(/A17-001 PASS 2-\d+ /);
    expect(text).toMatch(/A17-002 RETEST ALONE 1-\d+ \(report\)/);
    expect(text).toContain('Report of a pressure test that was not passed');
    expect(text).toMatch(/Order 4711 · NO CERTIFICATE · Report of a pressure test that was not passed 1-\d+ · run 1/);
    await expect(makeDocument(store, { kind: 'order', order: '0815', form: 'pdf' }, shop)).rejects.toThrow("order: '0815' is the order of no run that is over");
  });

  it('or an archive, whose records are checked without the store', async () => {
    make();
    const { bytes } = await makeDocument(store, { kind: 'order', order: '4711', form: 'zip' }, shop);
    const files = unzipSync(bytes);
    expect(Object.keys(files).sort()).toEqual([
      'certificate-A17-001-run-2.pdf', 'order-4711.pdf', 'report-A17-002-run-1.pdf', 'report-A17-003-run-1.pdf', 'run-1.csv', 'run-1.json', 'run-2.csv', 'run-2.json',
    ]);
    const record = new TextDecoder().decode(files['run-1.json']);
    expect(verifyExported(parseExported(record, 'run-1.json'), 'dwellkeeper test')).toMatchObject({ intact: true, breaches: [] });
    expect(new TextDecoder().decode(files['run-1.csv'])).toContain('run,bench,from,to,order,');
    expect(Buffer.from((await makeDocument(store, { kind: 'order', order: '4711', form: 'zip' }, shop)).bytes).equals(Buffer.from(bytes))).toBe(true);
  });

  it('the table of findings has one clock: its column and its sentences count from the start of the run', async () => {
    make();
    const { bytes } = await makeDocument(store, { kind: 'record', run: 2, form: 'csv' }, shop);
    const { data } = Papa.parse<Record<string, string>>(new TextDecoder().decode(bytes), { header: true, skipEmptyLines: true });
    const reach = data.find(({ rule }) => rule === 'reach');
    expect(reach?.['sentence']).toBe(`The test pressure was reached at ${Number(reach?.['at_s']).toFixed(1)} s.`);
  });

  it('a logo stands at the head, and long texts break without being cut', async () => {
    make();
    const png = readFileSync(new URL('../../dashboards/live-page.png', import.meta.url));
    const long = `Example Farm ${'and its many daughters '.repeat(8)}`.trim();
    addToRun(store, 2, { kind: 'job', ...job, assemblies: Array.from({ length: 150 }, (_, i) => `Z-${i}`), customer: long }, { ...doe, why: 'test' });
    const bytes = await certificatePdf(certificateContent(store, 2, { ...shop, logo: png }));
    const text = pdfText(bytes);
    expect(oneLine(execFileSync('pdftotext', ['-raw', '-', '-'], { input: bytes, encoding: 'utf8' }))).toContain(long);
    for (const serial of ['Z-0', 'Z-77', 'Z-149']) expect(text).toContain(serial);
    expect(Number(pdfFacts(bytes)['Pages'])).toBeGreaterThan(3);
    expect(execFileSync('pdfimages', ['-list', '-'], { input: bytes, encoding: 'utf8' }).split('\n').length).toBeGreaterThan(3);
  });
});

it('a calibration that the tests rely on is not overdue', () => expect(calibration.due > '2027-03-01').toBe(true));
