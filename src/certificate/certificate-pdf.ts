import type { CertificateContent, DocumentKind } from './certificate-content.js';
import { drawCode } from './draw-code.js';
import { drawPlot } from './draw-plot.js';
import { drawResult, resultLook } from './result-look.js';
import { inks, Sheet, type Ink } from './sheet.js';

const titles: Readonly<Record<DocumentKind, string>> = {
  certificate: 'Certificate of a proof pressure test',
  provisional: 'Provisional statement of a proof pressure test',
  report: 'Report of a pressure test that was not passed',
};

export const cautions = [
  'A pass says what the pressure showed, and the visual finding what a person saw. Neither replaces the ratings of the hose maker, the instructions of the bench maker, local rules or a competent person.',
  'Never approach, touch or tighten an assembly under pressure; lid latched and mat in place; purge the air, which stores energy that water does not. Dwellkeeper only watches and judges: it is no safety device.',
] as const;

/** What the document is not, in large letters; `null` for a certificate. */
export function warningOf({ kind, gaps }: Pick<CertificateContent, 'kind' | 'gaps'>): { readonly word: string; readonly why: string } | null {
  if (kind === 'certificate') return null;
  if (kind === 'provisional') return { word: 'PROVISIONAL', why: `Not to be handed over as a certificate: ${gaps.sentence}.` };
  return { word: 'NO CERTIFICATE', why: gaps.final ? 'This run was not passed.' : `This run was not passed. The record is also ${gaps.sentence}.` };
}

export const titleOf = (content: CertificateContent): string =>
  `${titles[content.kind]} ${content.number}${content.assembly === null ? '' : `, assembly ${content.assembly}`}`;

/** A certificate, or the report that stands for it, as a PDF. The same content gives the same bytes. */
export async function certificatePdf(content: CertificateContent): Promise<Uint8Array> {
  const sheet = new Sheet({ ...sheetFor(content), title: titleOf(content), subject: `Run ${content.run} on ${content.bench}: ${resultLook[content.result].word}` });
  drawCertificate(sheet, content);
  return sheet.end((page, pages) => [footOf(content), `page ${page} of ${pages}`]);
}

/** Paper, author and day of a document for a shop. */
export const sheetFor = ({ shop, wall }: Pick<CertificateContent, 'shop' | 'wall'>) =>
  ({ author: shop.name ?? 'Dwellkeeper', wall, size: shop.paper, margin: 40, foot: 34, otherFont: shop.font }) as const;

export function footOf(content: CertificateContent): string {
  const warning = warningOf(content);
  return `${warning === null ? '' : `${warning.word} · `}${titles[content.kind]} ${content.number} · run ${content.run} · seal ${content.seal.slice(0, 16)}…`;
}

/** Draws it from a new page on. */
export function drawCertificate(sheet: Sheet, content: CertificateContent): void {
  sheet.page();
  head(sheet, content);
  warning(sheet, content);
  result(sheet, content);
  sheet.heading('Job');
  sheet.grid(content.job, 3);
  sheet.heading('Assemblies');
  sheet.table(
    [{ head: 'Serial number', share: 2.2 }, { head: 'Result', share: 1.6 }, { head: 'Seen, and why', share: 4 }, { head: 'Attempts', share: 3 }],
    content.assemblies.map((line) => [
      { text: line.serial, face: 'bold' as const }, { text: resultLook[line.result].word, face: 'bold' as const, ink: resultLook[line.result].ink }, line.remark, line.attempt ?? '',
    ]),
  );
  sheet.heading('Visual finding');
  sheet.say(content.visual.statement, content.visual.given ? {} : { ink: 'unsure', face: 'bold' });
  sheet.heading('Trace', 170);
  drawPlot(sheet, content.plot, 190);
  sheet.heading('Plan and limits');
  sheet.grid(content.plan, 3);
  content.measured.forEach((rows, i) => {
    sheet.heading(content.measured.length > 1 ? `Measured, cycle ${i + 1} of ${content.measured.length}` : 'Measured');
    sheet.grid(rows, 4, 'not seen');
  });
  findings(sheet, content);
  sheet.heading('Transducer and calibration');
  sheet.grid(content.instrument, 4);
  if (content.irregularities.length > 0) {
    sheet.heading('Irregularities and changes');
    for (const line of content.irregularities) sheet.say(line, { size: 7.8 });
  }
  sheet.heading('Versions and seal');
  for (const { label, value } of content.versions) {
    const [name, text] = [`${label}: `, value ?? 'not known'];
    const height = sheet.heightOf(text, sheet.inner - 165, { face: 'mono', size: 6.8 });
    sheet.need(height + 4);
    sheet.at(name, sheet.left, sheet.y, 160, { size: 6.8, ink: 'faint' });
    sheet.y += sheet.at(text, sheet.left + 165, sheet.y, sheet.inner - 165, { face: 'mono', size: 6.8 }) + 2;
  }
  sheet.y += 4;
  if (sheet.hasNamedSigns) sheet.say('Signs in square brackets (U+...) are given by their Unicode number, because the fonts of this document do not have them; the record has them as they were written.', { size: 7, ink: 'faint' });
  for (const text of cautions) sheet.say(text, { size: 7, ink: 'faint' });
  signatures(sheet, content);
}

function head(sheet: Sheet, content: CertificateContent): void {
  const { shop } = content;
  const code = 92;
  const top = sheet.y;
  let y = top;
  if (shop.logo !== null) {
    sheet.pdf.image(Buffer.from(shop.logo), sheet.left, top, { fit: [120, 44] });
    y += 50;
  }
  const width = sheet.inner - code - 16;
  if (shop.name !== null) y += sheet.at(shop.name, sheet.left, y, width, { face: 'bold', size: 11 });
  if (shop.address.length > 0) y += sheet.at(shop.address.join(', '), sheet.left, y, width, { size: 7.5, ink: 'faint' });
  y += 8;
  y += sheet.at(titles[content.kind], sheet.left, y, width, { face: 'bold', size: 15 });
  y += sheet.at(`Number ${content.number}${content.assembly === null ? '' : `, for assembly ${content.assembly}`}`, sheet.left, y + 1, width, { face: 'bold', size: 9.5 });
  y += 3;
  y += sheet.at(`Run ${content.run} on ${content.bench}, ${content.when}`, sheet.left, y, width, { size: 8, ink: 'faint' });
  drawCode(sheet.pdf, content.code, sheet.right - code, top - 6, code);
  sheet.at('seal, for dwellkeeper verify', sheet.right - code, top + code - 8, code, { size: 6, ink: 'faint', align: 'center' });
  sheet.y = Math.max(y, top + code) + 6;
}

function warning(sheet: Sheet, content: CertificateContent): void {
  const text = warningOf(content);
  if (text === null) return;
  const ink: Ink = content.kind === 'report' ? 'bad' : 'unsure';
  const height = 26 + sheet.heightOf(text.why, sheet.inner - 20, { size: 8.5 });
  sheet.pdf.rect(sheet.left, sheet.y, sheet.inner, height).lineWidth(1.6).strokeColor(inks[ink]).stroke();
  sheet.at(text.word, sheet.left + 10, sheet.y + 5, sheet.inner - 20, { face: 'bold', size: 13, ink });
  sheet.at(text.why, sheet.left + 10, sheet.y + 21, sheet.inner - 20, { size: 8.5 });
  sheet.y += height + 8;
}

function result(sheet: Sheet, { result: word, reasons }: CertificateContent): void {
  const look = resultLook[word];
  const large = { face: 'bold', size: 20, ink: look.ink } as const;
  const from = 42 + sheet.widthOf(look.word, large) + 18;
  const width = sheet.inner - from;
  const text = reasons.slice(0, 4).join('\n');
  const height = Math.max(38, sheet.heightOf(text, width, { size: 8.5 }) + 4);
  sheet.need(height);
  drawResult(sheet.pdf, word, sheet.left, sheet.y, 34);
  sheet.at(look.word, sheet.left + 42, sheet.y + 5, from - 42, large);
  sheet.at(text, sheet.left + from, sheet.y + 4, width, { size: 8.5 });
  sheet.y += height;
}

const outcomeLook = { met: { text: '✓ met', ink: 'good' }, broken: { text: '✗ broken', ink: 'bad' }, undecided: { text: '? undecided', ink: 'unsure' } } as const;

function findings(sheet: Sheet, { findings: all }: CertificateContent): void {
  sheet.heading('Findings');
  sheet.table(
    [
      { head: 'Rule', share: 1.35 }, { head: 'Outcome', share: 1.4 }, { head: 'Measured', share: 1.15, align: 'right' }, { head: 'Limit', share: 1.15, align: 'right' },
      { head: 'Uncertainty', share: 1.3, align: 'right' }, { head: 'Unit', share: 1.05 }, { head: 'At', share: 1 }, { head: 'In words', share: 5.4 },
    ],
    all.map((finding) => [
      { text: finding.rule, face: 'bold' as const }, outcomeLook[finding.outcome], finding.measured, finding.limit, finding.uncertainty, finding.unit, finding.at, finding.sentence,
    ]),
    7.2,
  );
}

function signatures(sheet: Sheet, { signatures: all }: CertificateContent): void {
  sheet.need(62);
  sheet.y += 30;
  const width = (sheet.inner - 24) / 2;
  all.forEach(({ role, name }, i) => {
    const x = sheet.left + i * (width + 24);
    sheet.pdf.moveTo(x, sheet.y).lineTo(x + width, sheet.y).lineWidth(0.7).strokeColor(inks.ink).stroke();
    sheet.at(`${role}: ${name ?? 'name not given'}`, x, sheet.y + 3, width, { size: 8 });
    sheet.at('day and signature', x, sheet.y + 14, width, { size: 6.8, ink: 'faint' });
  });
  sheet.y += 26;
}
